"""What every page is made of: blocks and tables, set as Markdown or HTML."""
