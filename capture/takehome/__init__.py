"""What an auditor takes home: entries, proofs, a signed checkpoint, and what checks them."""
