rule write_clinician:
    """The clinician's report."""
    input:
        records=lambda wildcards: planned(wildcards).records,
        quality=of_sitting(f"{CLEAN}_eeg.json"),
        bandpower=of_sitting(f"{REGIONS}_bandpower.tsv"),
        review=review_file,
    output:
        pages=multiext(f"{REPORT}/clinician", ".html", ".pdf"),
    log:
        f"{LOGS}/write_clinician.log",
    params:
        step=STEPS / "write_clinician.py",
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "python {params.step} > {log} 2>&1"


rule write_handout:
    """The client's handout."""
    input:
        records=lambda wildcards: planned(wildcards).records,
        sheet=sheet_file,
        clinic="clinic.yaml",
        words=own_words,
        review=review_file,
    output:
        page=f"{REPORT}/handout.pdf",
    log:
        f"{LOGS}/write_handout.log",
    params:
        step=STEPS / "write_handout.py",
        date=lambda wildcards: planned(wildcards).date,
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "python {params.step} --clinic . --sitting {wildcards.client}/{wildcards.sitting}"
        " --date {params.date} --sheet {input.sheet} --records {input.records}"
        " --output {output.page} > {log} 2>&1"
