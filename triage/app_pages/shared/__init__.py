"""What several pages use: links, drafts, the open shop, cautions, messages, progress of long work.

May import: no other folder of the pages.
"""
