"""Texts for synthetic speech, one a line: number, kind, as spoken (with pauses), as it is to be written.

usage: texts.py COUNT SEED SENTENCES.txt WITHOUT.tsv SAMPLE.jsonl... > lines.tsv
SENTENCES.txt holds plain sentences, one a line; the samples come from `benchcall phrases --sample`. No line of four and more
words is written that stands in the second column of WITHOUT.tsv (path, text): those are kept for tests."""
import json
import os
import random
import re
import sys

ONES = "zero one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
COMMANDS = """say again|correction|disregard|affirm|affirmative|correct|yes|yep|yeah|no|nope|negative|roger|stand by|listen
next|next one|what's next|skip|how many left|how many are left|what's tight|scratch that|strike that|undo|read back|same again
repeat that|that's right|that's wrong|stop listening|carry on|cancel|hold on|okay|which shim|note|remark|done|go back""".replace("\n", "|").split("|")
PARTS = "left right middle front rear inner outer inlet intake exhaust in ex cylinder number pot barrel hole valve".split()
NAMES = """shim clearance gap thou millimetres microns tenths hundredths point oh nought tight loose goes won't doesn't compression
torque lapping feeler spring seat guide stem bucket journal lobe runout margin pins bar psi newton metres degrees percent""".split()
NEAR = """cat catch check shin skim ship chip shed gym team steam seam cap tap map gulp lap lapse clap sit heat feet bead bored
board bought vow wow cow house mouse thousand doubt down town out eggs axe text nest flex fax lift loft deaf theft rite
write light night flight knife title inn ink let outlet take steak silly slender calendar lumber under bumper plumber put pit
port part tart talk stork work bold colt cold halt stud mud stand hand band string sprint bring robe load globe bins pints
plugs bugs drugs rags tags jets pets bets boat goat vote coat hem gem died hide guy wide basket packet rocket bore door more
for fore to too ate hate late gate won want on one's wand mine line fine dime five fife dive live hive sicks fix mix heaven
lemon hero arrow nero owe know go slow show grows ghost toes wasn't isn't paint pint joint coin mill meal mile milk smile metre
meter matter litre letter collect connect collection direction yet guess chess stop shop step top lesson onto until against rain
crane same safe sane stretch match that fat hat oven even evening elevator sever severn""".split()
FOODS = "coffee tea apples bread milk eggs chips sugar beans soup cake potatoes rice mocha onions cheese ham".split()
TALK = """{n} pounds of {f}, please.|I will be there at {n}.|It cost me {n} quid.|There were {n} of them left.|The score was {n} to {n}.
My number is {n}.|He is {n} years old.|It is {n} miles from here.|Turn left at number {n}.|Can I have {n} {f} and a {f}?
The bus is the number {n}.|We need {n} more chairs.|Page {n}, at the bottom.|That was {n} years ago.|It went up {n} percent.
They won by {n} points.|The meeting is in room {n}.|She ran it in {n} minutes.|I make that {n}.|Channel {n}, I think.
It was {n} degrees yesterday.|Flight {n} is late again.|Half past {n}.|A medium {f}, {n} ounce, light roast.|No, I said {n} {f}, not {n}.
The exhaust on that van is blowing.|You should stop at the next right.|He left it on the right hand side.|Go on, check the oven.
Yes, no, I mean maybe.|I read it back to her twice.|Is the gap under the door big enough for the cat?|They are {n} metres apart.
The front door is shut, try the rear.|Say that again, I was not listening.|That is correct, {n} people came.|The plug is by the seat.
The inner one is broken and the outer one is fine.|Number {n} has gone on holiday.|Give me {n} minutes.|It only goes to {n}.
The spring weather has been lovely.|Cylinder of gas for the barbecue, {n} pounds.|Nothing fits in that gap.|Next time bring {n} of them.""".replace("\n", "|").split("|")
THINGS = "the seat|the stem|the guide|the bucket|the lobe|the journal|the cap|the face|the spring|the retainer|the collets|the seal|the dowel|the gasket face|the chain|the tensioner|the port|the plug thread|the oil way|the tip|the shim".split("|")
DONE = "cleaned|replaced|looked at|washed|measured twice|swapped|deburred|oiled|blown through|marked|bagged|polished|checked with blue|lapped again|left alone|put aside|ordered|is scored|feels loose|looks fine now|needs doing again".split("|")
WEAR = "light pitting|heavy scoring|some wear|slight corrosion|a little play|deep scratching|fine chatter marks|carbon|varnish|a small burr".split("|")
UNITS = """tenth tenths hundredth hundredths micron microns micrometre micrometres thou bar percent psi degree degrees millimetre
millimetres pin pins turn turns piece pieces newton newtons""".split() + ["newton metre", "newton metres", "foot pounds", "inch pounds"]
HERE = os.path.dirname(os.path.abspath(__file__))
SLOTTED = [l.strip() for l in open(os.path.join(HERE, "phrases.txt")) if l.strip() and not l.startswith("#")]
SHORT = {"wont": "won't", "doesnt": "doesn't", "dont": "don't", "whats": "what's", "thats": "that's", "cant": "can't",
         "isnt": "isn't", "ive": "i've", "im": "i'm", "whatve": "what've"}  # fmt: skip


def two(n):
    return ONES[n] if n < 10 else TEENS[n - 10] if n < 20 else TENS[n // 10 - 2] + (" " + ONES[n % 10] if n % 10 else "")


def digits(text, r):
    zero = r.choice(["oh", "oh", "zero", "nought"])
    return " ".join(zero if c == "0" else ONES[int(c)] for c in text)


def place(r):
    number = r.choice(ONES[1:7] * 4 + ONES[7:] + TEENS[:3])
    side, hand = r.choice("exhaust exhaust inlet inlet intake ex in".split()), r.choice("left right left right front rear inner outer middle".split())
    head = r.choice(["", "", "", "cylinder ", "number ", "pot ", "barrel ", "cylinder number "]) + number
    return r.choice([f"{head} {side}", f"{head} {side} {hand}", f"{head} {side} {hand}", f"{head} {hand} {side}", f"{side} {number} {hand}"])


def decimal(r):
    whole = r.choice(["", "", "", "zero ", "nought ", "oh ", ONES[r.randint(1, 9)] + " "])
    return whole + "point " + digits(f"{r.randint(0, 999):03}"[: r.choice([1, 2, 2, 2, 3])], r)


def gap(r):
    low = r.randint(3, 50)
    high = low + r.choice([1, 2, 3, 5])
    point = r.choice(["point ", "point ", "nought point ", "zero point "])
    say = r.choice([two, lambda n: point + digits(f"{n:02}", r), lambda n: point + digits(f"{n:02}", r).replace(" ", ", ")])
    x, y = say(low), say(high)
    return r.choice([x, x, decimal(r), f"{x} goes, {y} won't", f"{x} goes, {y} doesn't", f"{x} in, {y} no", f"goes at {x}, won't go at {y}",
                     f"{two(low)} thou", f"{x} tight", f"{x} loose", f"tight {x}", "no gap", f"{x} goes", f"{y} won't go"])  # fmt: skip


def shim(r):
    n = r.randint(120, 350)
    whole, rest = ONES[n // 100], f"{n % 100:02}"
    pair = two(int(rest)) if rest > "09" else "hundred" if rest == "00" else "oh " + ONES[int(rest)]
    return r.choice([f"{whole} point {digits(rest, r)}", f"{whole} {pair}", f"{whole} {pair}", f"{whole} {digits(rest, r)}"])


def fill(text, r):
    slots = {"p": place, "n": lambda r: two(r.randint(1, 99)), "d": decimal, "g": gap, "s": shim,
             "c": lambda r: r.choice(ONES[1:] + TEENS), "v": lambda r: r.choice(["inlet", "exhaust", "intake"]),
             "f": lambda r: r.choice(FOODS)}  # fmt: skip
    return re.sub(r"\{(\w)\}", lambda m: slots[m[1]](r), text)


def paused(text, r):
    """The text with a comma or two at random, for the pauses that people make."""
    words = text.split()
    for _ in range(r.choice([0, 0, 1, 1, 2])):
        k = r.randrange(len(words))
        if k + 1 < len(words):
            words[k] = words[k].rstrip(",") + ","
    return " ".join(words)


def alone(r):
    """One to three words of the bench by themselves: the short ones are the hardest."""
    pool = r.choice([ONES[1:], ONES[1:], ONES + ["oh", "point"], TEENS, TENS, PARTS, NAMES])
    return " ".join(r.choice(pool if k == 0 else ONES + PARTS) for k in range(r.choice([1, 1, 1, 2, 3])))


def close(r):
    """Words a consonant apart: teens and tens, "a", "oh" and "eight", one and many of a unit."""
    k = r.randint(3, 9)
    number = r.choice([TEENS[k], TENS[k - 2], TENS[k - 2] + " " + r.choice(ONES[1:])])
    number = r.choice([number, number, "point " + number, r.choice(ONES[1:4]) + " " + number, decimal(r), two(r.randint(1, 40))])
    unit = r.choice(UNITS)
    return r.choice([
        number, f"{place(r)} {number}", f"{place(r)}, {number}", f"{number} {unit}", f"{number}, {unit}", f"{decimal(r)} {unit}",
        f"{r.choice(PARTS)} {number} {unit}", f"{two(k)} goes, {number} doesn't", f"{number} and a half {unit}",
        f"{r.choice(['a', 'a', 'a', 'oh', 'eight', 'one'])} {r.choice([shim(r), number, unit, 'half ' + unit, 'bare ' + number])}",
        f"{r.choice(NAMES)} {r.choice(['a', 'oh'])} {number}",
    ])  # fmt: skip


def note(r, sentences):
    text = r.choice([lambda: f"{r.choice(THINGS)} {r.choice(DONE)}", lambda: f"{r.choice(WEAR)} on {r.choice(THINGS)}",
                     lambda: r.choice(sentences).rstrip(".!?").lower()])()  # fmt: skip
    return r.choice(["note ", "note ", "note " + place(r) + " ", "remark "]) + text


def line(r, sentences, samples):
    """-> kind, as spoken, as written"""
    k = r.random()
    if k < 0.64:
        if k < 0.33 and samples:
            kind, text = "bench", paused(r.choice(samples), r)
        elif k < 0.46:
            kind, text = "bench", fill(r.choice(SLOTTED), r)
        elif k < 0.49:
            kind, text = "bench", r.choice(COMMANDS)
        elif k < 0.57:
            kind, text = "bench", close(r)
        else:
            kind, text = "bench", alone(r)
        return kind, text, text.replace(",", "")
    if k < 0.69:
        text = note(r, sentences)
        return "note", text, re.sub("[,;:]", "", text)
    if k < 0.81:
        text = r.choice(sentences)
        return "plain", text, text
    if k < 0.91:
        text = fill(r.choice(TALK), r)
        return "talk", text[0].upper() + text[1:], text[0].upper() + text[1:]
    text = " ".join(r.choice(NEAR) for _ in range(r.choice([1, 1, 1, 2])))
    return "word", text, text


def main(count, seed, sentences, without, *files):
    r, seen, left_out = random.Random(int(seed)), {}, set()
    with open(without, encoding="utf-8") as f:
        kept = {text for text in (l.rstrip("\n").split("\t")[1].lower() for l in f) if len(text.split()) > 3}
    sentences = [l.strip() for l in open(sentences) if l.strip()]
    samples = [json.loads(l)["text"] for f in files for l in open(f)]
    samples = [" ".join(SHORT.get(w, w) for w in t.split()) for t in samples]
    while len(seen) < int(count):
        kind, spoken, written = line(r, sentences, samples)
        if written.lower() in kept:
            left_out.add(written)
            continue
        times = sum((written, k) in seen for k in range(12))
        if times < (12 if kind in ("bench", "word") and len(written.split()) < 4 else 1) and len(spoken) < 200:
            seen[(written, times)] = None
            print(f"{seed}-{len(seen):06}\t{kind}\t{spoken}\t{written}")
    print(len(left_out), "lines that are kept for tests left out", file=sys.stderr)


if __name__ == "__main__":
    main(*sys.argv[1:])
