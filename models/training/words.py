"""Text to the tokens of Whisper's English vocabulary and back (byte-pair merges in the order of the token numbers)."""
import re

END, START, NO_TIMES = 50256, 50257, 50362  # end of text, start of transcript, no timestamps
PREFIX = [START, NO_TIMES]
SPLIT = re.compile(r"'(?:s|t|re|ve|m|ll|d)| ?[A-Za-z]+| ?[0-9]+| ?[^\sA-Za-z0-9]+|\s+(?!\S)|\s+")


class Words:
    """The vocabulary of a ggml file."""

    def __init__(self, vocab):
        self.text, self.rank, self.seen = vocab, {t: i for i, t in enumerate(vocab) if i < END}, {}

    def encode(self, text):
        """Tokens of `text`; speech begins with a blank."""
        return [t for piece in SPLIT.findall(text) for t in self._merge(piece)]

    def _merge(self, piece):
        if piece not in self.seen:
            parts = [bytes([b]) for b in piece.encode()]
            while len(parts) > 1:
                ranks = [self.rank.get(a + b, END) for a, b in zip(parts, parts[1:])]
                best = min(ranks)
                if best == END:
                    break
                k = ranks.index(best)
                parts[k : k + 2] = [parts[k] + parts[k + 1]]
            self.seen[piece] = [self.rank[p] for p in parts]
        return self.seen[piece]

    def decode(self, tokens):
        """Text of the tokens up to the end of text."""
        tokens = tokens[: tokens.index(END)] if END in tokens else tokens
        return b"".join(self.text[t] for t in tokens if t < END).decode(errors="replace")


def plain(text):
    """The words that count when two texts are compared."""
    return re.sub(r"[^a-z0-9' ]", " ", text.lower()).split()


def distance(a, b):
    """Words to change, add or leave out to make one list of the other."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        last, row[0] = row[:], i
        for j, y in enumerate(b, 1):
            row[j] = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (x != y))
    return row[-1]
