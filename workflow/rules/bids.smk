rule write_bids:
    """The upload as raw BIDS, without names."""
    input:
        recording=first_original,
        facts=sheet_facts,
        clinic="clinic.yaml",
        settings=first_settings,
    output:
        recording=multiext(f"{RAW}_eeg", ".vhdr", ".eeg", ".vmrk", ".json"),
        channels=f"{RAW}_channels.tsv",
        events=multiext(f"{RAW}_events", ".tsv", ".json"),
    log:
        f"{LOGS}/write_bids.log",
    params:
        step=STEPS / "write_bids.py",
        original=lambda wildcards: planned(wildcards).original,
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "python {params.step} --original {params.original} --clinic ."
        " --sitting {wildcards.client}/{wildcards.sitting} --settings {input.settings}"
        " > {log} 2>&1"
