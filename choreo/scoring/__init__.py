"""A recorded run judged: valid or not and by which rule, what happened, what was off the plan, what to set next."""
