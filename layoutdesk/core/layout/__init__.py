"""From a block and its rules to rows, posts and vines; the one entry is `rows.lay_rows`."""
