"""Methods of spectra and regions, worded from the settings at hand."""

from aftersit.head.selective import DIRECTIONS
from aftersit.pages.answers_source import gamma_powers
from aftersit.pages.format import percent
from aftersit.pages.inputs import SittingInputs

SURFACES = {"mid": "halfway between white matter and pia", "white": "on the white matter"}


def spectra_methods(inputs: SittingInputs) -> str:
    """How spectra were made, and what their intervals mean."""
    if inputs.spectra is None:
        return "No spectra were computed."
    head = inputs.settings.head
    text = (
        f"Spectra are Welch averages of {head.segment_s:g} s Hann windows overlapping by "
        f"{head.segment_overlap * 100:g} %, from the cleaned signal outside bad spans. A band "
        "[low, high) holds its lower edge and not its upper one. Intervals (95 %) follow from the "
        "degrees of freedom of overlapping windows, neighbouring bins and channels, for a signal "
        "whose spectrum stays as it is. A spectrum's slope was fitted in "
        f"{head.aperiodic.low_hz:g}-{head.aperiodic.high_hz:g} Hz, with up to "
        f"{head.aperiodic.max_peaks} bumps on it (specparam); it is shown where the fit explains "
        f"at least {percent(head.aperiodic.least_r_squared)} of the variance."
    )
    if gamma_powers(inputs):
        text += (
            " Fast activity was held against points digitised from a published spectrum of two "
            "people under neuromuscular block (an order of magnitude)."
        )
    return text


def region_methods(inputs: SittingInputs) -> list[str]:
    """How region measures were made, and what is known of their errors."""
    return [_model(inputs), _selective(inputs), _errors(inputs)]


def _model(inputs: SittingInputs) -> str:
    head = inputs.settings.head
    conduct = head.conductivity_s_per_m
    return (
        "Region measures come from a template head (fsaverage; three-layer boundary element "
        f"model, brain, skull and scalp at {conduct.brain:g}, {conduct.skull:g} and "
        f"{conduct.scalp:g} S/m). No outer skull comes with the template: it was laid "
        f"{percent(head.skull_share)} of the way from inner skull to scalp, no thicker than "
        f"{head.skull_max_mm:g} mm. Sources lie {SURFACES[head.cortex_surface]}, normal to the "
        "cortex. The inverse solution is sLORETA (assumed signal-to-noise ratio "
        f"{head.snr:g}, regularisation 1/{head.snr**2:g}) for the electrodes that served, average "
        "reference. A region is one of the Desikan-Killiany atlas or a union of some; its measure "
        "is the mean squared estimate over its sources. Purity is the share of a measure's power "
        "that the region itself gives when all sources are equally active and each electrode adds "
        f"{head.limit_noise_share * 100:g} % of noise (sources count alike, though those of a "
        "region stand for 0.7 to 1.8 times the mean area of cortex); coverage is the "
        "effective part of the region's area that is heard."
    )


def _selective(inputs: SittingInputs) -> str:
    least = percent(inputs.settings.head.selective_coverage)
    return (
        "Beside it stands the selective measure: the purest quadratic measure of the region that "
        f"hears {least} of its area, or as much as sLORETA does where that is less (a convex "
        f"trade of purity against evenness, in up to {DIRECTIONS} directions). When both change "
        "alike, the change lies where they overlap, the region among other places; when they do "
        "not, nothing is said of the region."
    )


def _errors(inputs: SittingInputs) -> str:
    drawn = inputs.settings.head.plausible
    low, high = drawn.misplaced_mm
    ratios = "-".join(f"{r:g}" for r in drawn.brain_over_skull)
    return (
        "What the template's mistakes do to a contrast between blocks was found once for these "
        f"electrodes from {drawn.heads} drawn heads with {drawn.placements} placements each: "
        "brain over skull "
        f"conductivity {ratios}, skull {drawn.skull_mm[0]:g}-{drawn.skull_mm[1]:g} mm, axes of the "
        f"head varying by {percent(drawn.size_sd)}, electrodes off by {low:g}-{high:g} mm, every "
        f"region's power changing by {drawn.change_sd_db:g} dB on its own. A person's own folds "
        "were not drawn and add to it."
    )
