"""Head model: nested spheres, another library's sphere, another solver, exact properties."""

from functools import cache, partial

import numpy as np

from aftersit.bench.library import solve_by_library
from aftersit.bench.solvers import SHELLS, mag, rdm
from aftersit.bench.sphere import Shells, shell_coefficients, sphere_potential
from aftersit.electrodes import STANDARD_19
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, alike, at_least, at_most, between, both, near
from aftersit.head import solver
from aftersit.head.atlas import half_keys, region_titles
from aftersit.head.surface import Surface, distance_along, vertex_areas
from aftersit.head.template import read_cortex, read_layers, read_mesh

OUTER_MM = 92.0


@cache
def case() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Electrodes on a sphere of 92 mm; places and moments of dipoles 25 mm below the skull."""
    rng = np.random.default_rng(31)
    electrodes, way = rng.normal(size=(12, 3)), rng.normal(size=(10, 3))
    electrodes *= OUTER_MM / np.linalg.norm(electrodes, axis=1, keepdims=True)
    way *= 55 / np.linalg.norm(way, axis=1, keepdims=True)
    return electrodes, way, rng.normal(size=(10, 3))


def centred(gain: np.ndarray) -> np.ndarray:
    """Average reference."""
    return gain - gain.mean(axis=0)


def by_solver(given: Given, name: str = "ours") -> np.ndarray:
    """Potentials of the case in three shells, on the coarsest mesh."""
    return given.once(f"spheres by {name}", lambda: _solved(name))


def _solved(name: str) -> np.ndarray:
    electrodes, places, moments = case()
    ours = name == "ours"
    solve = solver.solve_bem if ours else partial(solve_by_library, solver=name)
    free = solve(SHELLS.layers(2), SHELLS.conductivity, places, electrodes)
    return np.einsum("esd,sd->es", free, moments)


@check("head", "one-sphere", "One shell equals the closed form of the homogeneous sphere")
def one_sphere(given: Given, fact: Fact) -> Result:
    electrodes, places, moments = case()
    one = Shells((OUTER_MM,), (0.33,))
    return alike(sphere_potential(one, places, moments, electrodes), _neumann(), rel=1e-6)


def _neumann() -> np.ndarray:
    """Derivative along each moment of Neumann's function of the sphere, by differences."""
    electrodes, places, moments = (part.copy() for part in case())
    radius, step = OUTER_MM / 1e3, 1e-6

    def potential(place: np.ndarray, electrode: np.ndarray) -> float:
        distance = np.linalg.norm(electrode - place)
        inner = radius**2 - place @ electrode + radius * distance
        return 2 / distance - np.log(inner / (2 * radius**2)) / radius

    out = np.empty((len(electrodes), len(places)))
    for e, electrode in enumerate(electrodes / 1e3):
        for s, (place, moment) in enumerate(zip(places / 1e3, moments, strict=True)):
            way = step * moment / np.linalg.norm(moment)
            rise = potential(place + way, electrode) - potential(place - way, electrode)
            out[e, s] = rise / (2 * step) * np.linalg.norm(moment) / (4 * np.pi * 0.33)
    return out


@check("head", "shells", "Coefficients of nested shells equal mne's")
def shells(given: Given, fact: Fact) -> Result:
    import mne

    sphere = mne.make_sphere_model(
        (0, 0, 0),
        OUTER_MM / 1e3,
        relative_radii=[radius / SHELLS.radius_mm[-1] for radius in SHELLS.radius_mm],
        sigmas=SHELLS.conductivity_s_per_m,
        verbose="ERROR",
    )
    theirs = mne.bem._fwd_eeg_get_multi_sphere_model_coeffs(sphere, 61)
    return alike(shell_coefficients(SHELLS, np.arange(1, 61)), theirs, rel=1e-10)


@check("head", "errors", "RDM and MAG are defined as in the literature")
def errors(given: Given, fact: Fact) -> Result:
    one, other = np.random.default_rng(6).normal(size=(2, 9, 4))
    a, b = centred(one), centred(other)
    cosine = (a * b).sum(axis=0) / np.linalg.norm(a, axis=0) / np.linalg.norm(b, axis=0)
    found = [*rdm(one, other), rdm(one, 3 * one)[0], rdm(one, -one)[0], mag(2 * one, one)[0]]
    expected = [*np.sqrt(2 - 2 * cosine), fact["rdm_same"], fact["rdm_turned"], fact["mag_doubled"]]
    return near(found, expected, abs=1e-9)


@check("head", "bem-sphere", "The boundary elements agree with the closed form of nested spheres")
def bem_sphere(given: Given, fact: Fact) -> Result:
    electrodes, places, moments = case()
    ours, exact = by_solver(given), sphere_potential(SHELLS, places, moments, electrodes)
    # The mesh of this check is twice as coarse as the head's; so is the limit of MAG.
    low, high = fact["mag_coarse"]
    return both(
        at_most(np.median(rdm(ours, exact)), fact["rdm_at_most"], "RDM"),
        between(np.median(mag(ours, exact)), low, high, "MAG"),
    )


@check("head", "second-solver", "A solver of another kind gives the same maps", needs=("openmeeg",))
def second_solver(given: Given, fact: Fact) -> Result:
    ours, theirs = (centred(by_solver(given, name)) for name in ("ours", "openmeeg"))
    r = [np.corrcoef(a, b)[0, 1] for a, b in zip(ours.T, theirs.T, strict=True)]
    return at_least(np.median(r), fact["correlation"])


@check("head", "mirror", "The mirrored head has the mirrored maps")
def mirror(given: Given, fact: Fact) -> Result:
    plain = by_solver(given)
    electrodes, places, moments = case()
    layers = SHELLS.layers(2).scaled(np.array([-1.0, 1.0, 1.0]))
    turn = np.array([-1.0, 1.0, 1.0])
    free = solver.solve_bem(layers, SHELLS.conductivity, places * turn, electrodes * turn)
    return alike(np.einsum("esd,sd->es", free, moments * turn), plain, rel=1e-6)


@check(
    "head",
    "template-sphere",
    "The template's maps are those of mne's four-shell sphere at the vault",
)
def template_sphere(given: Given, fact: Fact) -> Result:
    ours, theirs = (centred(part) for part in _vault(given.head))
    cosine = (ours * theirs).sum(axis=0)
    cosine = cosine / np.linalg.norm(ours, axis=0) / np.linalg.norm(theirs, axis=0)
    ratio = np.linalg.norm(ours, axis=0) / np.linalg.norm(theirs, axis=0)
    spread = fact["norm_ratio_within"]
    return both(
        at_least(np.median(cosine), fact["correlation"], "correlation (median)"),
        between(ratio, 1 - spread, 1 + spread, "size"),
    )


def _vault(head) -> tuple[np.ndarray, np.ndarray]:
    """Our gain and that of mne's sphere, for sources near the top of the head."""
    import mne

    from aftersit.head.template import trans_file

    info = mne.create_info(list(head.names), 256.0, "eeg")
    info.set_montage("fsaverage_1005")
    to_head = mne.transforms.invert_transform(mne.read_trans(trans_file()))
    top = (head.position_mm[:, 2] > 45) & (np.abs(head.position_mm[:, 1]) < 50)
    chosen = np.flatnonzero(top)[::20]
    places = mne.transforms.apply_trans(to_head, head.position_mm[chosen] / 1e3)
    normal = mne.transforms.apply_trans(to_head, head.normal[chosen], move=False)
    space = mne.setup_volume_source_space(pos={"rr": places, "nn": normal}, verbose="ERROR")
    sphere = mne.make_sphere_model("auto", "auto", info, verbose="ERROR")
    solved = mne.make_forward_solution(info, None, space, sphere, meg=False, verbose="ERROR")
    kept = solved["src"][0]["vertno"]
    free = solved["sol"]["data"].reshape(len(head.names), len(kept), 3)
    return head.gain[:, chosen[kept]], np.einsum("esd,sd->es", free, normal[kept])


@check("head", "conductivity", "Conductivities are mne's defaults, printed in the settings")
def conductivity(given: Given, fact: Fact) -> Result:
    used = given.settings.head.conductivity_s_per_m
    return near([used.brain, used.skull, used.scalp], fact["brain_skull_scalp"], unit="S/m")


@check("head", "drawn-heads", "The heads that a client's could be span the means of the literature")
def drawn_heads(given: Given, fact: Fact) -> Result:
    drawn = given.settings.head.plausible
    skull, scalp = (
        fact["grey_s_per_m"] / fact["skull_s_per_m"],
        fact["scalp_s_per_m"] / fact["grey_s_per_m"],
    )
    return both(
        between(skull, *drawn.brain_over_skull, "brain over skull"),
        between(scalp, *drawn.scalp_over_brain, "scalp over brain"),
    )


@check("head", "regions", "The atlas has 34 regions on each side")
def regions(given: Given, fact: Fact) -> Result:
    return near([len(region_titles()), len(half_keys())], fact["one_side_and_both"], unit="regions")


@check("head", "sides", "Left regions lie left: the insula's middle has the template's coordinates")
def sides(given: Given, fact: Fact) -> Result:
    head, found = given.head, []
    for side in ("left", "right"):
        inside = (head.region == "insula") & (head.hemisphere == side)
        found.append(head.position_mm[inside].mean(axis=0)[0])
    return near(found, fact["insula_x_mm"], abs=3, unit="mm")


@check("head", "positive", "A source that points at an electrode makes it positive")
def positive(given: Given, fact: Fact) -> Result:
    head, hits = given.head, []
    for name in ("C3", "C4", "Fz", "Pz", "O1", "F7"):
        way = head.electrode_mm[head.names.index(name)] - head.position_mm
        distance = np.linalg.norm(way, axis=1)
        facing = np.flatnonzero((way * head.normal).sum(axis=1) / distance > 0.97)
        nearest = facing[distance[facing].argsort()[:5]]
        hits.append((centred(head.gain)[:, nearest].argmax(axis=0) == head.names.index(name)).sum())
    return at_least(hits, fact["of_five"], "of 5")


@check("head", "depth", "The deeper a source, the less is heard", fact="positive")
def depth(given: Given, fact: Fact) -> Result:
    head = given.head
    away = np.linalg.norm(head.position_mm[:, None] - head.electrode_mm, axis=2).min(axis=1)
    size = np.linalg.norm(centred(head.gain), axis=0)
    fifths = [np.median(size[part]) for part in np.array_split(away.argsort(), 5)]
    return at_most(np.diff(fifths) / fifths[0], -0.01, "of the shallowest, step by step")


@check("head", "inside", "Every tried place of the cortex lies inside the inner skull")
def inside(given: Given, fact: Fact) -> Result:
    settings = given.settings.head
    skull = read_layers(settings).inner_skull
    angles = [
        solid_angle(place, skull)
        for side in ("left", "right")
        for place in read_cortex(side, settings.cortex_surface).vertices_mm[::500]
    ]
    return near(angles, np.ones(len(angles)), abs=1e-6, unit="of the whole solid angle")


def solid_angle(point: np.ndarray, surface: Surface) -> float:
    """Of a surface seen from a point, over 4 pi: 1 inside, 0 outside."""
    a, b, c = (surface.vertices_mm[k] - point for k in surface.triangles.T)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    numerator = np.einsum("ij,ij->i", a, np.cross(b, c))
    denominator = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (a * c).sum(1) * lb
    return float(np.arctan2(numerator, denominator).sum() / (2 * np.pi))


@check("head", "rays", "Distances along rays equal the closed form for a sphere")
def rays(given: Given, fact: Fact) -> Result:
    sphere = read_mesh("sphere", "right")
    radius = np.linalg.norm(sphere.vertices_mm, axis=1).mean()
    rng = np.random.default_rng(9)
    start, ray = rng.uniform(-50, 50, size=(20, 3)), rng.normal(size=(20, 3))
    ray /= np.linalg.norm(ray, axis=1, keepdims=True)
    along = (start * ray).sum(axis=1)
    expected = -along + np.sqrt(along**2 - (start**2).sum(axis=1) + radius**2)
    return near(distance_along(start, ray, sphere), expected, abs=0.2, unit="mm")


@check("head", "areas", "Areas of the template sphere's vertices add up to 4 pi R^2")
def areas(given: Given, fact: Fact) -> Result:
    sphere = read_mesh("sphere", "left")
    radius = np.linalg.norm(sphere.vertices_mm, axis=1).mean()
    return near(vertex_areas(sphere).sum() / radius**2, 4 * np.pi, rel=2e-3)


@check("head", "electrode-order", "The head's electrodes are the 19, T7 left and O1 behind")
def electrode_order(given: Given, fact: Fact) -> Result:
    head = given.head
    place = dict(zip(head.names, head.electrode_mm, strict=True))
    found = [head.names.index(n) - STANDARD_19.index(n) for n in STANDARD_19]
    sides = [
        place["T7"][0] < -60 < 60 < place["T8"][0],
        place["O1"][1] < -80 < 60 < place["Fp2"][1],
    ]
    return near([*np.abs(found), *sides], [0] * 19 + [1, 1])
