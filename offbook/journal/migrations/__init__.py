"""The numbered migrations of the journal, run by `opening.bring_up_to_date`."""
