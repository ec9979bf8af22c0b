rule write_pages:
    """The clinician's report and the client's handout: one process, as most of both is starting."""
    input:
        records=lambda wildcards: planned(wildcards).records,
        timelines=timelines,
        sheet=sheet_file,
        events=f"{RAW}_events.tsv",
        quality=of_sitting(f"{CLEAN}_eeg.json"),
        bandpower=of_sitting(f"{REGIONS}_bandpower.tsv"),
        spectra=of_sitting(f"{REGIONS}_spectra.tsv"),
        regions=of_sitting(f"{REGIONS}_regions.npz"),
        head=of_sitting(HEAD),
        clinic="clinic.yaml",
        words=own_words,
        review=review_file,
    output:
        pages=multiext(f"{REPORT}/", "clinician.html", "clinician.pdf", "handout.pdf"),
    log:
        f"{LOGS}/write_pages.log",
    params:
        step=STEPS / "write_pages.py",
        date=lambda wildcards: planned(wildcards).date,
        settings=lambda wildcards: planned(wildcards).settings,
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "python {params.step} --clinic . --sitting {wildcards.client}/{wildcards.sitting}"
        " --date {params.date} --settings {params.settings} --sheet {input.sheet}"
        " --events {input.events} --quality {input.quality} --bandpower {input.bandpower}"
        " --spectra {input.spectra} --regions {input.regions} --head {input.head}"
        " --records {input.records} --output {output.pages[0]} > {log} 2>&1"


rule finish_sitting:
    """The stamp of a revision: its records and pages with their checksums."""
    input:
        records=lambda wildcards: planned(wildcards).records,
        pages=multiext(f"{REPORT}/", "clinician.html", "clinician.pdf", "handout.pdf"),
    output:
        stamp=STAMP,
    log:
        f"{LOGS}/finish_sitting-r{{revision}}.log",
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "sha256sum {input.records} {input.pages} > {output.stamp} 2> {log}"


rule write_progress:
    """A client's sittings side by side, on one yardstick."""
    input:
        stamps=stamps_of,
        records=yardstick_records,
        ledger=ledger_entries,
        clinic="clinic.yaml",
        words=own_words,
    output:
        pages=multiext(PROGRESS, ".html", ".pdf", ".json"),
    log:
        f"{PROGRESS_LOGS}/write_progress.log",
    params:
        step=STEPS / "write_progress.py",
        sittings=numbers_of,
        yardstick=yardstick_of,
    conda:
        "../envs/aftersit.yaml"
    shell:
        "python {params.step} --clinic . --client {wildcards.client}"
        " --sittings {params.sittings} --yardstick {params.yardstick}"
        " --output {output.pages[0]} > {log} 2>&1"
