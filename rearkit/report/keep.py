"""The numbers of several answers, kept for results.json without being shown again."""

from __future__ import annotations

from rearkit.answers.answer import ANSWER_MIME, Answer


def keep(*answers: Answer) -> None:
    """Hand the facts of answers to whoever runs the notebook; nothing is shown.

    Parameters
    ----------
    *answers : Answer
        Answers whose numbers belong to the page.
    """
    from IPython.display import publish_display_data

    for answer in answers:
        publish_display_data({ANSWER_MIME: answer.kept()})
