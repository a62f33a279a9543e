"""The cautions that stand in every output meant for people."""

CAUTIONS: tuple[str, ...] = (
    "Mains voltage beside salt water can kill. Local electrical codes and licensed practice decide"
    " how this is built; use a residual-current device (GFCI).",
    "An open 0-10 V pair means FULL light on a current-sourcing ballast. Darkness is the relay's"
    " job, not that of 0 V.",
    "The control pair has basic insulation only: wire and treat it like mains.",
    "Lamp ends carry several hundred volts. Software off is no isolation: unplug before relamping.",
    "Tubes hold mercury; a broken or bare tube gives off UV. Do not look into blue light at close"
    " range.",
    "A wrong level can kill animals. Measure PPFD after loading a table, and raise light slowly.",
)
