"""What the engine keeps between two answers tells the same as what is worked out anew."""

from aligner.engine.answers import Undo
from aligner.engine.bench import bench_of
from aligner.engine.history import Entry, History
from aligner.engine.ledger import ledger_of
from aligner.journal.codec import decoded, encoded
from tests.engine.ideal_set import Conversation
from tests.small_sets import FM_ENDS, circuit, coverage, fm_head, oscillator, read, tracking

_TEXT = fm_head() + oscillator() + circuit("antenna") + coverage(FM_ENDS) + tracking()


def _done() -> Conversation:
    talk = Conversation(read(_TEXT), {"oscillator": (0.03, 0.02, 0.0, 0.0), "antenna": (-0.03, 0.02, 0.0, 0.0)})
    talk.work_to_the_end()
    return talk


def _anew(history: History) -> History:
    """The same entries as other objects, as a journal that is read gives them."""
    again = History()
    for entry in history.entries:
        again = again.with_entry(decoded(encoded(entry)))
    return again


def test_a_history_that_grew_tells_what_one_that_is_read_back_tells() -> None:
    talk = _done()
    again = _anew(talk.history)
    assert again.entries[0] is not talk.history.entries[0]
    assert ledger_of(talk.procedure, again).events == ledger_of(talk.procedure, talk.history).events


def test_what_an_entry_told_is_told_otherwise_once_it_is_taken_back() -> None:
    talk = _done()
    whole = ledger_of(talk.procedure, talk.history)
    last = talk.history.entries[-1]
    undo = Entry(seq=last.seq + 1, at_s=last.at_s, version=last.version, ask=None, answer=Undo(moved=True))
    left = ledger_of(talk.procedure, talk.history.with_entry(undo))
    assert [e for e in whole.events if e.seq >= 2 * last.seq]
    assert not [e for e in left.events if e.seq > 2 * last.seq]
    assert ledger_of(talk.procedure, talk.history).events == whole.events


def test_an_answer_is_checked_on_the_bench_that_its_ask_was_made_on() -> None:
    talk = _done()
    bench = bench_of(talk.procedure, talk.history)
    assert bench_of(talk.procedure, talk.history) is bench
    assert bench.belief("") is bench.belief("")
    assert bench_of(talk.procedure, _anew(talk.history)).belief("") is bench.belief("")
