"""The auditor's pages: what a history shows, one reading from its bytes to its verdict, any entry
with its proof. Each module makes plain data for one part of a page."""
