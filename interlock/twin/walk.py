"""The walk of a proof test on the built-in bench: every demand at speed, and every act that must not work."""

from itertools import chain

from interlock.twin.acts import Act, Deed, Scenario

__all__ = ["proof_test"]


def _held(act: Act, release: Act, at_s: float, seconds: float) -> tuple[Deed, Deed]:
    return Deed(at_s, act), Deed(at_s + seconds, release)


def _reset(at_s: float, seconds: float = 0.3) -> tuple[Deed, Deed]:
    return _held(Act.PRESS_RESET, Act.RELEASE_RESET, at_s, seconds)


def _supply(at_s: float, seconds: float = 0.4) -> tuple[Deed, Deed]:
    return _held(Act.PRESS_SUPPLY, Act.RELEASE_SUPPLY, at_s, seconds)


def proof_test(rpm: float = 2400.0, torque_nm: float = 16.0) -> Scenario:
    """About 64 s: power-up, five stops at speed, and a restart by reset and start after each."""

    def start(at_s: float) -> tuple[Deed, ...]:
        return (
            Deed(at_s, Act.START),
            Deed(at_s, Act.SET_SPEED, rpm),
            Deed(at_s + 0.9, Act.SET_TORQUE, torque_nm),
        )

    power_up = (
        Deed(0.6, Act.RELEASE_EMERGENCY),
        Deed(0.9, Act.RELEASE_STOP),
        Deed(1.4, Act.CLOSE_COVER),
        *_supply(2.0),
        *_reset(3.2),
        *start(4.6),
    )
    cover_reset_while_open = (
        *_held(Act.OPEN_COVER, Act.CLOSE_COVER, 8.0, 4.0),
        *_reset(11.0, 0.4),
        *_reset(12.6),
        *start(15.2),
    )
    button = (*_held(Act.PRESS_STOP, Act.RELEASE_STOP, 18.5, 2.0), *_reset(23.0), *start(25.7))
    cover_reset_held = (
        *_held(Act.OPEN_COVER, Act.CLOSE_COVER, 29.0, 2.0),
        *_reset(32.0, 1.2),
        *start(36.2),
    )
    emergency = (
        *_held(Act.PRESS_EMERGENCY, Act.RELEASE_EMERGENCY, 39.5, 5.5),
        *_supply(42.0),
        *_reset(43.5),
        *_supply(46.2),
        *_reset(47.6),
        *start(49.2),
    )
    button_again = (*_held(Act.PRESS_STOP, Act.RELEASE_STOP, 52.5, 2.0), *_reset(57.0), *start(59.7))
    end = (Deed(62.5, Act.SET_TORQUE, 0.0), Deed(62.5, Act.SET_SPEED, 0.0))
    deeds = chain(power_up, cover_reset_while_open, button, cover_reset_held, emergency, button_again, end)
    return Scenario(tuple(sorted(deeds, key=lambda deed: deed.at_s)), 64.5)
