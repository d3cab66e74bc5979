"""The workbook: what people see, hear and run, from engraved drills to finished lesson packs."""
