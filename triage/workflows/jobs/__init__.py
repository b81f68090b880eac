"""Acts on the record: intake, decision, quote, work, parts, ending, comeback, photos, import.

May import: `shop`.
"""
