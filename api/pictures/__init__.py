"""Pictures drawn from what is stored. Pure: values in, SVG text out."""
