"""The words by which a sentence tells whether it speaks of this lesson or of something else; words for numbers.

Common practice, no source: collected from how teachers write. Each list is a pattern without case; a space stands for
any run of spaces.
"""

from __future__ import annotations

import re

NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen",
           "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty", "twenty-one", "twenty-two",
           "twenty-three", "twenty-four")
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
            "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth")
NUMBER = rf"(?:\d{{1,3}}|{'|'.join(sorted(NUMBERS, key=len, reverse=True))})"
ORDINAL = rf"(?:\d{{1,3}}(?:st|nd|rd|th)|{'|'.join(ORDINALS)})"


def number_of(word: str) -> int:
    """The number that a word or some digits say: 4 for "four", "4", "fourth" and "4th"."""
    said = word.lower()
    if said[:1].isdigit():
        return int(said.rstrip("stndrh"))
    return (NUMBERS if said in NUMBERS else ORDINALS).index(said) + 1


def _any(*words: str) -> re.Pattern[str]:
    joined = "|".join(word.replace(" ", r"\s+") for word in words)
    return re.compile(rf"(?<![\w-])(?:{joined})(?![\w-])", re.IGNORECASE)


_OTHER_THINGS = ("keys?|tunes?|lessons?|songs?|loops?|tunings?|charts?|tempos?|positions?|meters?|styles?|players?"
                 "|teachers?|students?|books?|feels?|grooves?|versions?|modes?|people|days?|ways?|guitars?|instruments?")
_PEOPLE = ("players|books|guitarists|teachers|people|songs|tunes|charts|students|bands|singers|bassists|pianists"
           "|arrangers|styles|records|lessons|blues|genres|drummers|musicians")

# Another thing than the lesson: compared, remembered, planned, imagined, put in its place.
ELSEWHERE = _any(
    "compare[ds]?", "comparison", "unlike", "(?:in )?contrast", "vs", "versus", "similar to", "differs? from",
    "different from", "as opposed to", "the same (?:\\w+ )?(?:as|in|would|on)", "has the same", "have the same",
    "cousins?", "siblings?", "twins?", "reminds?", "remember(?! that| to)", "recall(?! that)", "familiar", "already know", "equivalents?",
    "counterparts?", "think of", "thinks of", "mistake\\w*", "confus\\w+", "look back", "knows? (?:it|this|that) as",
    "later", "next (?:week|time|lesson|month|term|year|step|chapter|class|level|stage)",
    "last (?:week|week's|time|lesson|lesson's|month|month's|term|year)", "(?:previous|earlier|following|coming|former"
    "|future) (?:\\w+ )?(?:lessons?|weeks?)", "yesterday", "tomorrow", "eventually", "one day", "some ?day",
    "another day", "used to", "originally", "soon", "once you", "when you(?: are|'re) ready", "afterwards",
    "in a (?:week|month|year|fortnight)", "by (?:the end of|next|christmas|summer)", "first (?:wrote|played|heard)",
    "old (?:arrangement|version|days|key|tuning|chart|lesson|recording|tune|song)",
    f"(?:another|others?|different|some other|any|various) (?:\\w+ )?(?:{_OTHER_THINGS})",
    f"(?:all|every|each|most|many|some|several|few|lots of) (?:other |of the )?(?:\\w+ )?(?:{_PEOPLE})",
    "(?:all|every|all the|all twelve|the twelve|twelve|most|many) (?:other |major |minor )?(?:keys?|tunings|positions)",
    "in (?:an?|the) (?:minor|major|jazz|slow|quick|straight|bebop|rhythm) (?:blues|changes)", "(?:other|another) choices? (?:is|are)", "elsewhere", "in general", "generally", "usually", "often", "sometimes", "traditionally", "in theory",
    "if(?! the (?-i:[A-G])| it (?:hurts|is|feels|gets))", "unless", "would", "could", "might", "may", "suppose", "imagine",
    "pretend", "as though", "as if", "had it", "were it", "wish", "let's say",
    "instead", "rather than", "in place of", "swap\\w*", "replac\\w+", "substitut\\w+", "subs?", "stands? in for",
    "exchang\\w+", "reharmoni[sz]\\w*", "trade\\w*", "turn(?:s|ed)? (?:it|this|the \\w+) into", "transpos\\w+",
    "for example", "for instance", "such as", "songs? like", "tunes? like", "anything like",
    "on (?:an?|the) (?:\\w+[ -])?(?:piano|keyboard|bass|ukulele|mandolin|violin|saxophone|sax|trumpet|clarinet|flute|banjo"
    "|acoustic|classical|baritone|(?:four|six|seven|eight|nine|twelve)-string|guitar)(?: guitar)?",
    "on (?:guitar|piano|bass|keys)", "pianists?", "horn players?", "saxophonists?",
    "for a change", "experiment", "for fun", "variations?", "variants?", "challenge", "bonus", "optional\\w*", "ambitious",
    "if you like", "feel free", "(?:is|are) (?:also |just |quite |perfectly )?(?:fine|okay|possible|allowed|welcome|an option)", "without (?:its|the|their) (?:root|bass|3rd|third|5th|fifth|7th|seventh|capo)", "no longer", "sessions?", "gigs?",
)

# The same in weaker words, which a word for this lesson overrules.
PERHAPS = _any(
    "borrow\\w*", "comes? from", "came from", "taken from", "belongs? to", "parallel", "relatives?", "parents?", "modes?",
    "degrees?", "begun on", "starting on", "started on", "built on", "notes of", "share[ds]?", "is also",
    "also called", "known as", "called", "spelled", "enharmonic\\w*", "superimpos\\w+", "on top", "rootless",
    "outside", "passing chords?", "approach chords?", "side-?step\\w*", "tritone", "turnarounds?",
    "upper structure", "quot\\w+", "hints? at", "suggests?", "impl(?:y|ies)", "stacked", "stacks",
    "gives? (?:you )?(?:the )?[#b]?\\d{1,2}", "a grip",
)

# This lesson, its chart, its drill, or what the hand does in it.
_ITS = ("lesson|loop|chart|vamp|tune|track|backing|progression|groove|drill|exercise|riff|piece|song|study|form|chorus"
        "|changes|chords|verse|bridge")
HERE = _any(
    f"this (?:\\w+ )?(?:{_ITS}|page|blues|waltz|ballad|shuffle|key|position)", "this is", "it is", "it's",
    f"(?:these|our) (?:\\w+ )?(?:{_ITS}|bars|key|scale|position)", f"the (?:whole |entire |backing )?(?:{_ITS})",
    "the home scale", "home scale", "here", "we (?:are|stay|play|use|work|remain|keep|begin|start|live|sit)", "we're",
    "today", "everything", "throughout", "all the way through", "from start to finish", "stay in", "bars? \\d{1,3}",
    "in this", "for this", "the (?:first|second|third|fourth|last) (?:bar|chord)",
)
# A sentence that begins so goes on speaking of what the one before it spoke of.
GOES_ON = re.compile(r"\s*(?:there|it|its|that|those|they|their|such|both|in that|over that|the latter|and|or)\b",
                     re.IGNORECASE)
# Told to play a scale: not the scale at large.
TOLD = _any("improvise", "solo", "play", "use", "run", "practi[sc]e", "sing", "stay", "stick", "all in", "works?",
            "fits?", "built from", "your scale", "choose")

_LITTLE = r"(?:(?:also|with|in|on|it|out|over|that|those|the|an?|some|any|your|of|quite|really|from)\s+){0,4}"
# Just before a name: it is another thing's, or denied.
LIKE = re.compile(rf"\b(?:like|unlike|as in|as|try|than|another|add|insert|throw in|sneak in|say|no|not|never|nor|without"
                  rf"|isn't|aren't|wasn't|e\.g\.|i\.e\.)[\s,]+{_LITTLE}$", re.IGNORECASE)
INDEFINITE = re.compile(r"\b(?:an?|any|some|every|another)\s+(?:\w+\s+)?$", re.IGNORECASE)

# What excuses one kind of name alone.
EXCUSES = {
    "position": _any("up to", "down to", "moves?", "shifts?", "slides?", "climbs?", "jumps?", "as well", "again in", "repeat",
                     "also", "then", "two positions", "neighbour\\w*", "neighbor\\w*"),
    "tempo": _any("goal", "target", "aim", "start", "starts", "starting", "begin", "begins", "from", "slow\\w*", "fast\\w*",
                  "until", "up to", "reach\\w*", "work", "build", "days?", "weeks?", "ladder", "step", "first", "half",
                  "double", "enough", "before", "raise", "lower", "nudge", "add", "towards?", "down to", "safe", "limit",
                  "comfort\\w*", "record"),
    "string": _any("tuned", "tune", "tunes", "dropped", "down", "lowered", "raised", "missing"),
    "feel": _any("first", "then", "once", "after", "try", "both", "between", "no", "more", "less"),
}
