"""What limits an answer about minutes."""

SENTENCES: dict[str, str] = {
    "no_minutes": "No minutes were written down for {units}.",
    "minutes_partly": "Not every visit was timed ({units}, as few as {share} of them), so the sums "
    "are the least that it took.",
    "too_few_survivors": "Fewer than two fry were left in {units}: nothing is divided by next to "
    "nothing, so minutes a survivor are not compared.",
    "no_price": "The difference in survivors is not clear of zero, so minutes for every extra fry "
    "are not worked out: divided by next to nothing, any number comes out.",
    "minutes_beside_main": "The main outcome is {main}; minutes stand beside it as an estimate, "
    "not as a second test.",
}
