"""The words by which a sentence tells whether it speaks of this lesson or of something else; words for numbers.

Common practice, no source: collected from how teachers write. Each list is a pattern without case; a space stands for
any run of spaces.
"""

from __future__ import annotations

import re

NUMBERS = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen",
    "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty", "twenty-one", "twenty-two",
    "twenty-three", "twenty-four",
)
ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
    "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth",
)
NUMBER = rf"(?:\d{{1,3}}|{'|'.join(sorted(NUMBERS, key=len, reverse=True))})"
ORDINAL = rf"(?:\d{{1,3}}(?:st|nd|rd|th)|{'|'.join(ORDINALS)})"


def number_of(word: str) -> int:
    """The number that a word or some digits say: 4 for "four", "4", "fourth" and "4th"."""
    said = word.lower()
    if said[:1].isdigit():
        return int(said.rstrip("stndrh"))
    return (NUMBERS if said in NUMBERS else ORDINALS).index(said) + 1


def _any(phrases: str) -> re.Pattern[str]:
    """A pattern of phrases, parted by semicolons and lines; {braces} stand for the lists of _PARTS."""
    rows = [one.strip() for line in phrases.splitlines() for one in line.split(";") if one.strip()]
    filled = [re.sub(r"\{([a-z]+)\}", lambda match: _PARTS[match[1]], one) for one in rows]
    joined = "|".join(one.replace(" ", r"\s+") for one in filled)
    return re.compile(rf"(?<![\w-])(?:{joined})(?![\w-])", re.IGNORECASE)


_PARTS = {
    "things": "(?:keys?|tunes?|lessons?|songs?|loops?|vamps?|riffs?|progressions?"
              "|tunings?|charts?|tempos?|positions?|meters?|styles?|players?"
              "|teachers?|students?|books?|feels?|grooves?|versions?|modes?|people|days?|ways?|guitars?|instruments?)",
    "people": "(?:players|books|guitarists|teachers|people|songs|tunes|charts|students|bands|singers|bassists|pianists"
              "|arrangers|styles|records|lessons|blues|genres|drummers|musicians)",
    "instrument": "(?:piano|keyboard|bass|ukulele|mandolin|violin|saxophone|sax|trumpet|clarinet|flute|banjo|acoustic"
                  "|classical|baritone|(?:four|six|seven|eight|nine|twelve)-string|guitar)(?: guitar)?",
    "its": "(?:lesson|loop|chart|vamp|tune|track|backing|progression|groove|drill|exercise|riff|piece|song|study|form"
           "|chorus|changes|chords|verse|bridge)",
    "day": "(?:week|time|lesson|month|term|year)",
    "member": "(?:root|bass|3rd|third|5th|fifth|7th|seventh)",
}

# Another thing than the lesson: compared, remembered, planned, belonging to others, imagined, put in its place.
ELSEWHERE = _any(r"""
    compare[ds]?; comparison; unlike; (?:in )?contrast; vs; versus; similar to; differs? from; different from
    as opposed to; the same (?:\w+ )?(?:as|in|would|on); has the same; have the same; cousins?; siblings?; twins?
    reminds?; remember(?! that| to); recall(?! that); familiar; already know; equivalents?; counterparts?; thinks? of
    mistake\w*; confus\w+; look back; knows? (?:it|this|that) as

    later; next (?:{day}|step|chapter|class|level|stage); last {day}(?:'s)?; yesterday; tomorrow; eventually; one day
    (?:previous|earlier|following|coming|former|future) (?:\w+ )?(?:lessons?|weeks?); some ?day; another day; used to
    originally; soon; once you; when you(?: are|'re) ready; afterwards; in a (?:week|month|year|fortnight)
    by (?:the end of|next|christmas|summer); first (?:wrote|played|heard)
    old (?:arrangement|version|days|key|tuning|chart|lesson|recording|tune|song)

    (?:another|others?|different|some other|any|various) (?:\w+ )?{things}
    (?:all|every|each|most|many|some|several|few|lots of) (?:other |of the )?(?:\w+ )?{people}
    (?:all|every|all the|all twelve|the twelve|twelve|most|many) (?:other |major |minor )?(?:keys?|tunings|positions)
    in (?:an?|the) (?:minor|major|jazz|slow|quick|straight|bebop|rhythm) (?:blues|changes)
    (?:other|another) choices? (?:is|are); elsewhere; in general; generally; usually; often; sometimes; traditionally
    in theory; on (?:an?|the) (?:\w+[ -])?{instrument}; on (?:guitar|piano|bass|keys); pianists?; horn players?
    saxophonists?; singers?; sessions?; gigs?; recordings?; albums?; the original; (?:not|doesn't|don't) exist
     no longer; songs? like; tunes? like; anything like

    if(?! the (?-i:[A-G])| it hurts); unless; would; could; might; may; suppose; imagine; pretend
    as though; as if; had it; were it; wish; let's say; for example; for instance; such as; e\.g\.

    instead; rather than; in place of; swap\w*; replac\w+; substitut\w+; subs?; stands? in for; exchang\w+; trade\w*
    reharmoni[sz]\w*; turn(?:s|ed)? (?:it|this|the \w+) into; transpos\w+; for a change; experiment; for fun
    variations?; variants?; challenge; bonus; optional\w*; ambitious; if you like; feel free
    (?:is|are) (?:also |just |quite |perfectly )?(?:fine|okay|possible|allowed|welcome|an option)
    without (?:its|the|their) (?:{member}|capo); gives? (?:you )?(?:the )?[#b]?\d{1,2}
""")

# The same in weaker words, of chords and scales alone, which a word for this lesson overrules.
PERHAPS = _any(r"""
    borrow\w*; comes? from; came from; taken from; belongs? to; built on; notes of; also called; known as
    superimpos\w+; on top; rootless; outside; passing chords?; approach chords?; side-?step\w*; tritone; turnarounds?
    upper structure; for (?:colou?r|flavou?r|spice|contrast); quot\w+
    hints? at; suggests?; impl(?:y|ies); stacked; stacks; a grip
""")
_OF_SCALES = r"""
    parallel; relatives?; parents?; modes?; degrees?; begun on; starting on; started on; share[ds]?; is also; called
    spelled; enharmonic\w*
"""

# This lesson, its chart, its drill, or what the hand does in it.
HERE = _any(r"""
    this (?:\w+ )?(?:{its}|page|blues|waltz|ballad|shuffle|key|position); this is; it is; it's
    (?:these|our) (?:\w+ )?(?:{its}|bars|key|scale|position); the (?:whole |entire |backing )?{its}
    home scale; here; we (?:are|stay|play|use|work|remain|keep|begin|start|live|sit); we're; today; everything
    throughout; all the way through; from start to finish; stay in; the first finger; bars? \d{1,3}; takes; in this
    for this; the (?:first|second|third|fourth|last) (?:bar|chord)
""")
# A sentence that begins so goes on speaking of what the one before it spoke of.
GOES_ON = re.compile(r"\s*(?:there|it|its|that|those|they|their|such|both|in that|over that|the latter|and|or)\b",
                     re.IGNORECASE)
# Told to play a scale: not the scale at large.
TOLD = _any("improvise; solo; play; use; run; practi[sc]e; sing; stay; stick; all in; works?; fits?; built from; "
            "your scale; choose")

_LITTLE = r"(?:(?:also|with|in|on|it|out|over|that|those|the|an?|some|any|your|of|quite|really|from)\s+){0,4}"
# Just before a name: it is another thing's, or denied.
LIKE = re.compile(r"\b(?:is|are|was|were)(?:\s+not|n't)\s+(?:\w+\s+){0,3}$"
                  r"|\b(?:like|unlike|as in|as|try|than|another|add|insert|throw in|sneak in|say|no|not|never|nor"
                  rf"|without|e\.g\.|i\.e\.)[\s,]+{_LITTLE}$", re.IGNORECASE)
INDEFINITE = re.compile(r"\b(?:an?|any|some|every|another)\s+(?:\w+\s+)?$", re.IGNORECASE)

# What excuses one kind of name alone.
EXCUSES = {
    "position": _any("up to; down to; moves?; shifts?; slides?; climbs?; jumps?; as well; again in; repeat; also; "
                     "then; two positions; neighbou?r\\w*"),
    "tempo": _any("goal; target; aim; starts?; starting; begins?; from; slow\\w*; fast\\w*; until; up to; reach\\w*; "
                  "work; build; days?; weeks?; ladder; step; first; half; double; enough; before; raise; lower; nudge; "
                  "add; towards?; down to; safe; limit; comfort\\w*; record"),
    "scale": _any(_OF_SCALES),
    "key": _any(_OF_SCALES),
    "string": _any("tuned?; tunes; dropped; down; lowered; raised; missing"),
    "feel": _any("first; then; once; after; try; both; between; no; more; less"),
}
