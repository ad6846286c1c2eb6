"""What opens a transaction or writes in the record and is not called by the walk, each with its reason."""

from __future__ import annotations

_PART = "is a part, with a line of its own, of"
_OWN = "is the program's own bookkeeping, which changes nothing that anybody decided:"
_READS = "reads in one transaction, so that what it reads belongs together:"

WITHOUT: dict[str, str] = {
    # Parts: each line stands among those of the action that they are part of.
    "batches.actions.book_held_time": f"{_PART} booking, where a hold becomes a slot",
    "batches.actions.cancel_slot": f"{_PART} booking.actions.cancel_booking",
    "batches.actions.move_slot": f"{_PART} booking, where a slot is moved to a held time",
    "booking.following.lapse_holds": f"{_PART} the sweep: every hold that ran out is let go",
    "floor.actions.measure_load": f"{_PART} floor.actions.jars_out and of corrections, by learning.actions.note_load",
    "floor.lines.write_line": f"{_PART} floor.actions.record_event, withdraw_event and of handing over",
    "learning.actions.note_load": f"{_PART} floor.actions.jars_out",
    "planning.actions.queue_job": f"{_PART} request_plan, request_rest and request_rota",
    "planning.booked.cancel_booked_loads": f"{_PART} booking.actions.cancel_booking",
    "planning.booked.write_booked_loads": f"{_PART} booking, where a hold becomes a slot",
    "planning.loads.correct_load_times": f"{_PART} floor.actions, where a line is corrected",
    "planning.loads.correct_reading": f"{_PART} floor/looking.py, when a gauge was found to be off",
    "planning.loads.end_hold": f"{_PART} seals.actions.decide_hold",
    "planning.loads.hold_load": f"{_PART} floor.actions and whatever finds a deviation later",
    "planning.loads.leave_out": f"{_PART} reprocess, where jars are taken out of a load",
    "planning.loads.move_load": f"{_PART} floor.actions.jars_out and seals.actions.record_seal_check",
    "reminders.actions.cancel_for_portion": f"{_PART} seals.actions.record_seal_check",
    "reminders.actions.move_due": f"{_PART} floor.actions, where the time of jars out is corrected",
    "reminders.actions.schedule_for_load": f"{_PART} floor.actions.jars_out",
    "reminders.planned.forget_deadline": f"{_PART} reprocess and of seals.actions.decide_offer",
    "reminders.planned.remind": f"{_PART} planning.actions.publish_plan and of the looks at gauges and shelves",
    "reminders.planned.remind_of_deadline": f"{_PART} seals.actions.record_seal_check, where jars did not seal",
    "rota.changing.open_from": f"{_PART} rota.actions.leave and give_back",
    "rota.changing.pass_on": f"{_PART} rota.actions.take and hand_over and of swaps",
    "rota.lapsing.lapse_offers": f"{_PART} whatever changes a shift that is on offer",
    "rota.leaving.end_hours": f"{_PART} rota.actions.leave",
    # Several actions by one press.
    "harvest.actions.make_change": "makes one of several changes, each by the action of its own name; "
    "tests/kitchen/harvest/test_what_if.py counts the lines",
    "members.people.change": "is a page: one press changes age and role, by the two actions of these names, or neither",
    # Needs more of a day than a call here makes.
    "labels.actions.note_reprocess": "tests/kitchen/labels/test_labels.py counts its one line",
    "planning.actions.request_rest": "queues a job by planning.actions.queue_job, as request_plan does",
    # No line at all.
    "planning.asking.start_what_if": f"{_OWN} that it was asked is recorded, and an answer changes no day",
    "planning.asking.finish_what_if": f"{_OWN} that it was asked is recorded, and an answer changes no day",
    "planning.asking.fail_what_if": f"{_OWN} that it was asked is recorded, and an answer changes no day",
    "planning.jobs.start_job": f"{_OWN} asking for a plan and its end are recorded, not that a worker took it",
    "reminders.claims.claim_due": f"{_OWN} which worker sends what",
    "reminders.claims.complete": f"{_OWN} a line for each message sent (tests/kitchen/reminders/test_many.py)",
    "reminders.claims.gather": f"{_OWN} a message goes into that of the day",
    "reminders.claims.put_off": f"{_OWN} a line when it is given up, none for each time that it failed",
    "reminders.claims.wait": f"{_OWN} a message waits for the end of quiet hours",
    "reminders.gauges.remind_of_gauges": f"{_OWN} a look, by reminders.planned.remind",
    "labels.reminding.remind_of_shelf": f"{_OWN} a look, by reminders.planned.remind",
    "reminders.runs.begin_run": f"{_OWN} the watch over the clock; a clock that was moved is recorded",
    "equipment.canner_time.booking": "is the one way in which other actions take a canner, and theirs is the line",
    "floor.queries.what_came_of": f"{_READS} what became of a press",
}
