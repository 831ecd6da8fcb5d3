"""The interview that leads to a shoot file: questions as data, answers as state. No terminal here.

A `Question` teaches in a sentence, offers an answer, and reads what is typed. An `Interview` is
what has been answered so far; each answer, and each step back, makes a new one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from belvedere.foundation import PlanError

Answers = Mapping[str, Any]

#: The dozen subjects, in the order in which one decides them.
TOPICS = (
    "The picture",
    "The camera",
    "The lens",
    "The view",
    "The wish",
    "The overlap",
    "The head",
    "Near and far",
    "The light",
    "The rhythm",
    "Card and batteries",
    "Place and time",
)

#: Typed in place of an answer.
MORE, BACK = "?", "<"


def _always(_answers: Answers) -> bool:
    return True


def _silent(_answers: Answers) -> tuple[str, ...]:
    return ()


def offers(text: str | None) -> Callable[[Answers], str | None]:
    """A default that does not hang on earlier answers."""
    return lambda _answers: text


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    `topic` counts in `TOPICS` from 1. `teaches` is the sentence under the question, `more` what
    "?" shows. `default` is what Enter stands for: "" leaves the answer out, in the words of
    `left_out`; None is no answer.
    `parse` reads what was typed and raises PlanError with a sentence where it means nothing.
    `options` are lines to choose from, shown as they are. `reply` says what an answer amounts to.
    """

    key: str
    topic: int
    text: str
    teaches: str
    more: str
    parse: Callable[[str, Answers], Any]
    default: Callable[[Answers], str | None]
    asked: Callable[[Answers], bool] = _always
    options: Callable[[Answers], tuple[str, ...]] = _silent
    reply: Callable[[Answers], tuple[str, ...]] = _silent
    left_out: str = "leave it out"


@dataclass(frozen=True, slots=True)
class Interview:
    """What has been answered: `answers` by key, `asked` the keys in order.

    `typed` keeps what a person typed, to offer it again after a step back, by all that the person
    saw of the question.
    """

    questions: tuple[Question, ...]
    answers: Answers = field(default_factory=dict)
    asked: tuple[str, ...] = ()
    typed: Mapping[tuple[str, ...], str] = field(default_factory=dict)

    def question(self) -> Question | None:
        """The next question; None where all is answered."""
        for question in self.questions:
            if question.key not in self.answers and question.asked(self.answers):
                return question
        return None

    def default(self) -> str | None:
        """What Enter stands for: what was typed before a step back, or the question's own."""
        question = self.question()
        if question is None:
            return None
        return self.typed.get(self._seen(question), question.default(self.answers))

    def answered(self, text: str) -> Interview:
        """The interview with its next question answered by `text`; "" is Enter.

        Raises
        ------
        PlanError
            Where the answer means nothing; says what would.
        """
        question = self.question()
        if question is None:
            raise PlanError("All questions are answered.")
        typed = text.strip() or self.default()
        if typed is None:
            raise PlanError("This one has no usual answer.", "Type one, or < to go back.")
        value = question.parse(typed, self.answers) if typed else None
        remembered = {self._seen(question): text.strip()} if text.strip() else {}
        return replace(
            self,
            answers={**self.answers, question.key: value},
            asked=(*self.asked, question.key),
            typed={**self.typed, **remembered},
        )

    def reply(self) -> tuple[str, ...]:
        """What the last answer amounts to, in sentences."""
        last = next((q for q in self.questions if self.asked and q.key == self.asked[-1]), None)
        return () if last is None else last.reply(self.answers)

    def back(self) -> Interview:
        """The interview as it was before the last answer, which it offers again."""
        if not self.asked:
            return self
        last = self.asked[-1]
        answers = {key: value for key, value in self.answers.items() if key != last}
        return replace(self, answers=answers, asked=self.asked[:-1])

    def _seen(self, question: Question) -> tuple[str, ...]:
        return (question.key, question.text, *question.options(self.answers))
