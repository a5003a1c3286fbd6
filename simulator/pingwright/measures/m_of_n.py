"""Seen in at least m of n pings of a pass."""

from pingwright.inputs.fields import known
from pingwright.measure.rules import Rule, Window
from pingwright.measures.asked import Question
from pingwright.measures.detected import Detected


class MOfN(Detected):
    """Probability that at least m of some n neighbouring pings of a pass show the fish."""

    name = "m_of_n"
    overs = ("pass",)
    definition = (
        "Probability that at least m of some n neighbouring pings of a pass detect the fish, each as in `detected`; m"
        " and n are the claim's key `pings`."
    )

    def rule(self, question: Question) -> Rule:
        """Return the window of the question's m and n."""
        return Window(*known(question.pings, "pings"))
