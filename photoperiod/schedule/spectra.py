"""Spectra of channels, and the action spectrum by which their photons count.

What reads and integrates spectra is imported only where a schedule has one.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from photoperiod.errors import WrongUse
from photoperiod.schedule.cursor import AlreadyReported, Cursor
from photoperiod.schedule.findings import Findings
from photoperiod.schedule.model import Channel
from photoperiod.schedule.readings_files import ReadingsFiles, check_digest

if TYPE_CHECKING:
    from photoperiod.readings.faults import Faults
    from photoperiod.readings.photon_shares import PhotonShares, Spectrum

#: What reads the bytes of a file with a spectrum.
Read = Callable[[str, bytes], "tuple[Spectrum | None, Faults]"]


@dataclass(frozen=True, slots=True)
class Spectra:
    """Builds the photon shares of channels.

    Parameters
    ----------
    files : ReadingsFiles
        The bytes of the files that the schedule names.
    findings : Findings
        Findings are added here.
    action : callable
        Returns the action spectrum, None if the schedule has none; or raises AlreadyReported.
    """

    files: ReadingsFiles
    findings: Findings
    action: Callable[[], Spectrum | None]

    def of(self, channel: Cursor) -> PhotonShares | None:
        """Return the photon shares of a channel, None without a spectrum; or raise AlreadyReported."""
        if not channel.has("spectrum"):
            return None
        from photoperiod.readings.photon_shares import photon_shares
        from photoperiod.readings.spectrum import illuminant, led, read_spectrum

        cursor, kind = channel.child("spectrum"), channel.child("spectrum").text("kind")
        if kind == "measured":
            spectrum = _of_file(cursor, "readings", read_spectrum, self.files, self.findings)
        elif kind == "led":
            spectrum = led(cursor.number("centre_nm"), cursor.number("width_nm"))
        else:
            try:
                spectrum = illuminant(cursor.text("name"))
            except WrongUse as error:
                self.findings.add("PHO916", cursor.at("name"), str(error))
                raise AlreadyReported from None
        action = self.action()
        try:
            return photon_shares(spectrum, action)
        except ValueError as error:
            self.findings.add(
                "PHO916", cursor.path, str(error), "is it the right light?", on_key=True
            )
            raise AlreadyReported from None


def read_spectra(top: Cursor, files: ReadingsFiles, findings: Findings) -> Spectra:
    """Return what builds the photon shares of channels, by the action spectrum of a schedule."""

    @functools.cache
    def action() -> Spectrum | None:
        if not top.has("action_spectrum"):
            return None
        from photoperiod.readings.spectrum import read_action_spectrum

        cursor = top.child("action_spectrum")
        return _of_file(cursor, "weights", read_action_spectrum, files, findings)

    return Spectra(files, findings, action)


def check_action_spectrum(
    top: Cursor, channels: Iterable[Channel | None], findings: Findings
) -> None:
    """Report an action spectrum by which no photon counts."""
    if top.has("action_spectrum") and not any(c is None or c.photon_shares for c in channels):
        findings.add(
            "PHO318",
            ("action_spectrum",),
            "'action_spectrum' changes nothing: no channel has a `spectrum`",
            "write the `spectrum` of each channel, or remove it",
            on_key=True,
        )


def _of_file(
    cursor: Cursor, key: str, read: Read, files: ReadingsFiles, findings: Findings
) -> Spectrum:
    """Return the spectrum in a file that a key names, or raise AlreadyReported."""
    name, path = cursor.text(key), cursor.at(key)
    raw = files.bytes_of(name, path)
    found, faults = read(name, raw)
    files.tell(name, faults, path)
    if found is None:
        raise AlreadyReported
    sha256 = files.keep_digest(name, raw)
    check_digest(cursor, name, sha256, findings, f"{key}_sha256")
    return found
