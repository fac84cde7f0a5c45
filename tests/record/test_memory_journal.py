from hypothesis import given, settings
from journal_contract import JournalContract, replay_equals_the_visit
from random_events import event_lists

from sidecue.record.memory_journal import MemoryJournal


class TestMemoryJournal(JournalContract):
    def make(self, tmp_path):
        return MemoryJournal()


@settings(deadline=None)
@given(event_lists())
def test_replaying_the_memory_journal_equals_the_visit_itself(events):
    replay_equals_the_visit(MemoryJournal(), events)
