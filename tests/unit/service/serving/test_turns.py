"""In which order requests come to their turn, and for whom each asks."""

from __future__ import annotations

import pytest

from service.serving.turns import FairQueue, Turn, forwarded_for, person_of


class Asked:
    """A request that waits."""

    def __init__(self, name: str, turn: Turn) -> None:
        self.name = name
        self.turn = turn

    def service(self) -> None:
        """Nothing is answered here."""

    def cancel(self) -> None:
        """Nothing is held."""


def queued(*turns: Turn) -> list[str]:
    """In which order requests come to their turn, each with its number."""
    queue, order = FairQueue(), list[str]()
    for number, turn in enumerate(turns):
        queue.append(Asked(f"{turn.place}{turn.person}{number}", turn))
    for left in reversed(range(len(turns))):
        request = queue.popleft()
        assert isinstance(request, Asked)
        assert len(queue) == left
        order.append(request.name)
    return order


def at(*places: str) -> tuple[Turn, ...]:
    return tuple(map(Turn, places))


def test_of_one_person_the_newest_and_the_oldest_come_in_turn() -> None:
    assert queued(*at("a", "a", "a", "a")) == ["a3", "a0", "a2", "a1"]


def test_places_that_had_nothing_come_first_and_then_all_in_turn() -> None:
    assert queued(*at("a", "a", "a", "b", "b", "c")) == ["c5", "a2", "b4", "a0", "b3", "a1"]


def test_who_asks_for_one_thing_at_a_time_comes_within_four_turns() -> None:
    queue = FairQueue()
    for number in range(300):
        queue.append(Asked("crowd", Turn("a", str(number % 30))))
    queue.append(Asked("one", Turn("a", "tutor")))
    since, waited = 0, []
    for turn in range(1, 101):
        request = queue.popleft()
        assert isinstance(request, Asked)
        if request.name == "one":
            waited.append(turn - since)
            since = turn
            queue.append(request)
    assert max(waited) <= 4
    # And has no more than every second turn of all.
    assert len(waited) <= 50


def test_each_second_turn_is_for_a_plan() -> None:
    queue = FairQueue()
    for number in range(8):
        queue.append(Asked("list", Turn(str(number))))
    for number in range(3):
        queue.append(Asked("plan", Turn(str(number), soon=True)))
    order = [getattr(queue.popleft(), "name", "") for _ in range(11)]
    assert order == ["plan", "list"] * 3 + ["list"] * 5
    assert len(queue) == 0


def test_who_is_being_answered_waits_with_the_others() -> None:
    queue = FairQueue()
    queue.hold(Turn("a"), 1)
    queue.append(Asked("a", Turn("a")))
    queue.append(Asked("b", Turn("b")))
    first = queue.popleft()
    assert isinstance(first, Asked)
    assert first.name == "b"
    queue.hold(Turn("a"), -1)
    queue.append(Asked("a again", Turn("c")))
    assert len(queue) == 2


def test_none_waits_for_ever_beside_new_ones() -> None:
    queue = FairQueue()
    for place in "abc":
        queue.append(Asked(f"{place} first", Turn(place)))
        queue.append(Asked(f"{place} second", Turn(place)))
    served = set()
    for number in range(40):
        queue.append(Asked("new", Turn(str(number))))
        request = queue.popleft()
        assert isinstance(request, Asked)
        served.add(request.name)
    assert {f"{place} {one}" for place in "abc" for one in ("first", "second")} <= served


def test_in_a_place_persons_come_in_turn() -> None:
    class_ = [Turn("a", "x")] * 3 + [Turn("a", "y")] * 2
    assert queued(*class_) == ["ay4", "ay3", "ax2", "ax0", "ax1"]


def test_made_up_persons_gain_nothing_beside_another_place() -> None:
    crowd = [Turn("a", str(number)) for number in range(9)]
    assert "b9" in queued(*crowd, Turn("b"))[:2]


@pytest.mark.parametrize(
    ("sent", "address"),
    [
        ({"X_FORWARDED_FOR": "192.0.2.7"}, "192.0.2.7"),
        # A proxy adds what it sees to what it was sent.
        ({"X_FORWARDED_FOR": "203.0.113.1, 192.0.2.7"}, "192.0.2.7"),
        ({"X_FORWARDED_FOR": '"[2001:db8::7]"'}, "2001:db8::7"),
        ({}, ""),
    ],
)
def test_the_address_is_what_the_proxy_wrote_last(sent: dict[str, str], address: str) -> None:
    assert forwarded_for(sent) == address


def test_a_key_says_who_asks_or_else_a_cookie() -> None:
    assert person_of({"AUTHORIZATION": "Bearer a", "COOKIE": "k=b"}) == "Bearer a"
    assert person_of({"COOKIE": "k=b"}) == "k=b"
    assert person_of({}) == ""
