rule build_head:
    """The template head, once for each settings version."""
    input:
        settings=settings_file,
    output:
        head=HEAD,
    log:
        ".aftersit/logs/build_head-{settings}.log",
    params:
        step=STEPS / "build_head.py",
    conda:
        "../envs/aftersit.yaml"
    shell:
        "python {params.step} --out {output.head}"
        " --settings {input.settings} > {log} 2>&1"


rule draw_heads:
    """Heads that a client's could be, once for each settings version: some two minutes."""
    input:
        head=HEAD,
        settings=settings_file,
    output:
        heads=PLAUSIBLE,
    log:
        ".aftersit/logs/draw_heads-{settings}.log",
    params:
        step=STEPS / "draw_heads.py",
    conda:
        "../envs/aftersit.yaml"
    shell:
        "python {params.step} --head {input.head} --out {output.heads}"
        " --settings {input.settings} > {log} 2>&1"


rule measure_regions:
    """Region measures for the electrodes that served, spectra and band power of each block."""
    input:
        recording=f"{CLEAN}_eeg.vhdr",
        sidecar=f"{CLEAN}_eeg.json",
        events=f"{RAW}_events.tsv",
        head=HEAD,
        facts=sheet_facts,
        plausible=PLAUSIBLE,
        regions=own_regions,
        settings=settings_file,
    output:
        measures=f"{REGIONS}_regions.npz",
        cross=f"{REGIONS}_cross.npz",
        bandpower=f"{REGIONS}_bandpower.tsv",
        aperiodic=f"{REGIONS}_aperiodic.tsv",
        spectra=f"{REGIONS}_spectra.tsv",
    log:
        f"{LOGS}/measure_regions-{{settings}}.log",
    params:
        step=STEPS / "measure_regions.py",
        regions=lambda wildcards, input: f"--regions {input.regions}" if input.regions else "",
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "python {params.step} --clean {input.recording} --events {input.events}"
        " --head {input.head} --plausible {input.plausible} {params.regions}"
        " --settings {input.settings}"
        " --out-folder $(dirname {output.measures}) > {log} 2>&1"
