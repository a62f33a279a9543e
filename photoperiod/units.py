"""Constants, each with its unit and its source."""

SECONDS_PER_DAY = 86_400
SECONDS_PER_HOUR = 3_600
SECONDS_PER_MINUTE = 60

#: Full scale of the control interface [V]: at or above it the ballast gives full light.
#: IEC 60929, Annex E, as quoted in trade articles.
CONTROL_VOLTS_FULL = 10.0

#: Most current one control input sources into the controller [mA].
#: IEC 60929, Annex E, as quoted in trade articles.
CONTROL_MILLIAMPS_PER_BALLAST = 2.0

#: Photons: 1 mol = 1e6 µmol.
UMOL_PER_MOL = 1_000_000

#: PPFD at night [µmol m⁻² s⁻¹] from which coral symbionts were measurably harmed in a month.
#: PubMed Central article PMC8256845 (light at night and symbiont cultures).
NIGHT_PPFD_UMOL_M2_S = 0.15

#: Constant below which CIE 1976 lightness is linear: L* = (24389/27) Y, printed as
#: 903.3 (CIE 1976 lightness, as in the documentation of the colour-science library).
CIE_KAPPA = 24_389 / 27
