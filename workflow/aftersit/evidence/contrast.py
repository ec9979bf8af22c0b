"""Contrast of two colours: Web Content Accessibility Guidelines 2.2."""


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb` (definition in WCAG 2.2, sRGB knee 0.04045)."""
    parts = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    """(L1 + 0.05) / (L2 + 0.05), the lighter first."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
