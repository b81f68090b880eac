ALTER TABLE looked_inside ADD COLUMN depth TEXT CHECK ("depth" IN ('opened', 'board-out', 'shields-off'))

ALTER TABLE looked_inside ADD COLUMN suspected BOOLEAN
