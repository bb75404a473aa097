"""Many recordings, unattended: a folder tree of sound and video becomes drafts beside a table of them.

    folder ─ places ─► found ─ planning ─► tasks ─ engine ─► outcomes ─ keeping ─► drafts

An engine has processes of this machine, or the workers of a Dask cluster.

The journal (`journal.py`) says at any moment what is done; only the starting process writes it, the drafts
and the table. What runs elsewhere is one plain function, `work.work`, from tasks to outcomes.
"""
