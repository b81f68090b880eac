"""Rows of the trade table: cameras, sound, sensors, housing, liquid, ownership.

Written by hand from bench practice, never derived from the catalogue. Unless a
row states a source: common practice, no source.
"""

from tests.domain.trade_rows import BOARD_AFTER, CLEANING, FRAME, HOT, LIQUID_LOOK, Row

OUTSIDE = {
    # Cameras.
    "camera-lens-cracked": Row(
        "change-camera-lens",
        "camera-lens",
        "change-back-glass",
        "glass-splinters",
        "six-face-look",
        "cameras",
    ),
    "camera-dead": Row(
        "change-camera", "rear-camera", FRAME, "paired-parts-kept", "sound-sensor-camera-round", "cameras"
    ),
    "depth-sensor-fault": Row(
        "move-depth-sensor-chip",
        "depth-sensor solder-and-flux",
        FRAME,
        "paired-parts-kept flux-fume",
        "sound-sensor-camera-round",
        "biometric-unlock",
    ),
    "torch-dead": Row(
        "change-torch", "torch", "", "charged-capacitors", "sound-sensor-camera-round", "cameras"
    ),
    # Sound: judged once the board layers are whole.
    "earpiece-weak": Row(
        "change-earpiece", "earpiece", "rejoin-board-layers", "", "sound-sensor-camera-round", "speakers"
    ),
    "loudspeaker-weak": Row(
        "change-loudspeaker",
        "loudspeaker",
        "rejoin-board-layers",
        "",
        "sound-sensor-camera-round",
        "speakers",
    ),
    "microphone-dead": Row(
        "change-microphone",
        "microphone solder-and-flux",
        "rejoin-board-layers",
        "flux-fume guard-neighbours",
        "known-good-port-and-flex sound-sensor-camera-round",
        "microphones call-both-ways",
    ),
    "vibration-motor-dead": Row(
        "change-vibration-motor", "vibration-motor", "", "", "sound-sensor-camera-round", "vibration-and-keys"
    ),
    "audio-chip-fault": Row(
        "change-audio-chip",
        "board-chip solder-and-flux",
        BOARD_AFTER + " rejoin-board-layers",
        HOT,
        "sound-sensor-camera-round",
        "speakers microphones call-both-ways",
    ),
    # Sensors and buttons: the unit's own paired parts stay with it.
    "sensor-flex-cut": Row(
        "change-sensor-flex",
        "sensor-flex",
        "",
        "paired-parts-kept part-grade-told",
        "diode-mode-map sound-sensor-camera-round",
        "brightness-and-proximity",
    ),
    "proximity-sensor-lost": Row(
        "transfer-sensor-flex",
        "",
        "",
        "paired-parts-kept",
        "sound-sensor-camera-round",
        "brightness-and-proximity",
    ),
    "fingerprint-sensor-dead": Row(
        "change-fingerprint-sensor",
        "fingerprint-sensor",
        "",
        "paired-parts-kept",
        "sound-sensor-camera-round",
        "biometric-unlock",
    ),
    "motion-sensor-fault": Row(
        "change-motion-sensor",
        "board-chip solder-and-flux",
        BOARD_AFTER,
        HOT,
        "sound-sensor-camera-round",
        "motion-sensors",
    ),
    "side-key-dead": Row(
        "change-side-flex", "side-flex", FRAME, "static", "sound-sensor-camera-round", "vibration-and-keys"
    ),
    "power-key-flex-cut": Row(
        "change-power-key-flex",
        "power-key-flex",
        FRAME,
        "static",
        "bench-supply-boot-current diode-mode-map sound-sensor-camera-round",
        "vibration-and-keys",
    ),
    "sim-reader-fault": Row(
        "change-sim-reader",
        "sim-reader solder-and-flux",
        FRAME + " " + CLEANING,
        HOT,
        "radio-compare",
        "card-detect",
    ),
    # Frame and housing: before display fit, back glass and sealing; board and cell out.
    "housing-scuffed": Row("tidy-housing", "", "straighten-frame", "", "six-face-look", "cosmetic-grade"),
    "back-glass-cracked": Row(
        "change-back-glass",
        "back-glass adhesive-seal",
        "straighten-frame change-wireless-coil",
        "glass-splinters laser-and-ultraviolet cell-away-from-heat no-ingress-claim",
        "six-face-look",
        "seal-look cosmetic-grade wireless-and-contactless",
    ),
    "frame-bent": Row(
        "straighten-frame",
        "",
        "",
        "board-not-pressed-flat damaged-cell cell-tools",
        "six-face-look straightness-on-flat",
        "seal-look hardware-complete",
    ),
    "frame-side-broken": Row(
        "swap-housing",
        "housing adhesive-seal",
        "",
        "board-not-pressed-flat damaged-cell screw-map paired-parts-kept no-ingress-claim",
        "six-face-look",
        "hardware-complete vibration-and-keys cameras cellular-signal seal-look identity-numbers",
    ),
    "screw-boss-stripped": Row(
        "rebuild-screw-boss",
        "screws adhesive-seal",
        "straighten-frame",
        "screw-map",
        "seal-pressure",
        "seal-look hardware-complete",
    ),
    "brackets-missing": Row("refit-brackets", "brackets", "", "", "", "hardware-complete"),
    "screws-missing": Row(
        "refit-screws", "screws", "rebuild-screw-boss", "screw-map", "six-face-look", "hardware-complete"
    ),
    "shields-missing": Row(
        "refit-shields",
        "shields solder-and-flux",
        "clear-main-rail-short reball-chip change-board-chip",
        HOT,
        "microscope-look",
        "hardware-complete",
    ),
    # Liquid: no power, battery off, open and clean.
    "liquid-mark-dry": Row(
        "open-dry-and-look",
        "",
        "",
        "liquid-no-power no-ingress-claim alcohol",
        "six-face-look",
        "residue-look",
    ),
    "liquid-on-board": Row(
        "clean-board-after-liquid",
        "solder-and-flux",
        "",
        "liquid-no-power alcohol ultrasonic-bath bake-before-heat",
        LIQUID_LOOK,
        "residue-look sleep-current soak-and-restarts",
    ),
    "liquid-salt-or-sugar": Row(
        "clean-board-after-liquid",
        "solder-and-flux",
        "",
        "liquid-no-power alcohol ultrasonic-bath damaged-cell",
        "microscope-look",
        "residue-look sleep-current",
    ),
    "liquid-under-shield": Row(
        "clean-under-shields",
        "solder-and-flux",
        "clean-board-after-liquid",
        HOT + " liquid-no-power bake-before-heat",
        "microscope-look",
        "residue-look solder-look",
    ),
    # Ownership and paired parts: a stop has no repair, and no lock is ever bypassed.
    "account-locked": Row("", cautions="ownership-first", checks="identity-and-lock-look"),
    "identity-mismatch": Row("", cautions="ownership-first", checks="identity-and-lock-look"),
    "paired-part-message": Row(
        "transfer-paired-chip",
        "solder-and-flux",
        CLEANING,
        "paired-parts-kept part-grade-told",
        "identity-and-lock-look",
        "paired-message-screen",
    ),
    "biometrics-lost": Row(
        "restore-biometrics", "", CLEANING, "paired-parts-kept", "identity-and-lock-look", "biometric-unlock"
    ),
    # Clear, purge or destroy, with a record: NIST SP 800-88 Rev. 2, 2025 (read).
    "passcode-unknown": Row(
        "wipe-with-proof",
        "",
        CLEANING,
        "data-privacy wipe-before-sale ownership-first",
        "identity-and-lock-look",
        "wipe-proof",
    ),
    "management-enrolled": Row(
        "owner-releases-unit", "", CLEANING, "ownership-first", "identity-and-lock-look", "identity-numbers"
    ),
}
