"""The maker's own list: their spreadsheet, read and written."""
