"""The numbers and the sentences by which the practice page hears a take, taken from where the report has its own.

The page has the same hearing in its own language (browser/strikes.js, aligning.js, heard_take.js); what it is tuned by
comes from here with its data, so that the two cannot part.
"""

from __future__ import annotations

from typing import Any

_KINDS = ("wrong", "missing", "late", "uneven", "bar", "off-beats", "drift")  # what the page tells


def for_page() -> dict[str, Any]:
    """What a practice page's data holds under “hearing”."""
    from . import aligning, findings, measures, said, spectra, strikes, take, thresholds

    return {
        "by": {
            "rate": spectra.RATE, "hop": spectra.HOP, "window": spectra._WINDOW, "bands": spectra._BANDS,
            "lag": spectra._LAG, "lowest_hz": spectra._LOWEST_HZ, "highest_hz": spectra._HIGHEST_HZ,
            "lowest": strikes.LOWEST, "highest": strikes.HIGHEST, "nearest_seconds": strikes.NEAREST_SECONDS,
            "smooth_frames": strikes.SMOOTH_FRAMES, "least_share": strikes.LEAST_SHARE,
            "after_seconds": strikes.AFTER, "before_seconds": strikes.BEFORE, "kept_share": strikes.KEPT_SHARE,
            "pitch_window": strikes.WINDOW, "padded": strikes.PADDED, "partials": strikes.PARTIALS,
            "fall": strikes.FALL, "beside_cents": strikes.BESIDE_CENTS, "near_semitones": strikes.NEAR_SEMITONES,
            "missed": aligning.MISSED, "pitch": aligning.PITCH, "extra": aligning.EXTRA, "weak": aligning.WEAK,
            "soft": aligning.SOFT, "wide_seconds": aligning.WIDE_SECONDS, "narrow_seconds": aligning.NARROW_SECONDS,
            "farthest_seconds": aligning.FARTHEST_SECONDS, "strum_seconds": aligning.STRUM_SECONDS,
            "wrong_below": take.WRONG_BELOW, "octaves": take.OCTAVES, "fewest": take.FEWEST,
            "fewest_share": take.FEWEST_SHARE, "stray_share": take.STRAY_SHARE, "extra_strength": take.EXTRA_STRENGTH,
        },
        "tell": {
            "near_beat": measures.NEAR_BEAT, "fewest_on_and_off": measures.FEWEST_ON_AND_OFF,
            "fewest_drift": measures.FEWEST_DRIFT, "fewest_timed": findings.FEWEST_TIMED,
            "fewest_in_bar": findings.FEWEST_IN_BAR, "worth": {
                kind: thresholds.THRESHOLDS[kind].worth_saying for kind in _KINDS},
            "noticed_ms": thresholds.THRESHOLDS["uneven"].just_noticed,
            "weight": {"wrong": findings.WRONG_WEIGHT, "missing": findings.MISSING_WEIGHT},
            "slower": {kind: thresholds.SLOWER[kind] for kind in _KINDS}, "slowest": thresholds.SLOWEST,
            "said": said.SAID, "ways": said.WAYS, "counted": said.COUNTED, "well": said.WELL, "names": findings.NAMES,
        },
    }
