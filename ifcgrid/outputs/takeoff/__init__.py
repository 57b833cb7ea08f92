"""The take-off: net quantities measured from geometry, what to order, and how it is handed out.

`measure` counts, `order` adds stock, allowances and packs, `cut_list` puts parts in the order
of work, `costs` prices; `record` (JSON), `tables` (CSV), `workbook` (XLSX) and `text` hand out.
"""
