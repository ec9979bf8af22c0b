"""Patterns of codes and names, and how errors put them in words."""

CODE_PATTERN = r"^[A-Za-z0-9]{2,16}$"
NAME_PATTERN = r"^[a-z][a-z0-9-]{0,39}$"

IN_WORDS = {
    CODE_PATTERN: "allowed: 2 to 16 letters (without accents) and digits",
    NAME_PATTERN: "allowed: small letters, digits and hyphens, a letter first, at most 40 in all",
}
