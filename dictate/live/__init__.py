"""During the exam: sound comes in and is kept as it comes, is understood as it grows, and is shown to the room.

    source ─► recording on disk ─► utterances ─► words ─► orders, answers, observations ─► the room display

At the end the recording is drafted by the same steps as any file; what was ordered and answered aloud lies beside it as
events and is replayed (`replay.py`), now and whenever the recording is drafted again.
"""
