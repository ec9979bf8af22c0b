def review_file(wildcards):
    """The review of a sitting's handout, when there is one."""
    path = Path(f".aftersit/reviews/{wildcards.client}-{wildcards.sitting}.json")
    return [path] if path.is_file() else []
