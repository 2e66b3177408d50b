"""The local page: jobs kept in a folder, edited, nested and shown in a browser."""
