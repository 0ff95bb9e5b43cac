"""Where jobs are kept: files with every revision of them, in SQLite or PostgreSQL.

The store knows no building. It keeps named files byte for byte, who changed them, when and why,
and never loses or half-writes a change it has acknowledged.
"""
