rule replay_protocol:
    """Run a protocol over the recording as a live system would, uncleaned and cleaned."""
    input:
        raw=f"{RAW}_eeg.vhdr",
        events=f"{RAW}_events.tsv",
        raw_sidecar=f"{RAW}_eeg.json",
        clean=f"{CLEAN}_eeg.vhdr",
        sidecar=f"{CLEAN}_eeg.json",
        measures=f"{REGIONS}_regions.npz",
        cross=f"{REGIONS}_cross.npz",
        head=HEAD,
        protocol=PROTOCOL,
        settings=settings_file,
        facts=sheet_facts,
    output:
        record=f"{REPLAY}/record.json",
        cleaned=f"{REPLAY}/timeline-cleaned.tsv",
        uncleaned=f"{REPLAY}/timeline-uncleaned.tsv",
        made_from=f"{REPLAY}/made_from.json",
    log:
        f"{LOGS}/replay_protocol-{{settings}}-{{protocol}}-v{{version}}.log",
    params:
        step=STEPS / "replay_protocol.py",
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "python {params.step} --raw {input.raw} --clean {input.clean}"
        " --regions {input.measures} --cross {input.cross} --head {input.head}"
        " --protocol {input.protocol} --settings {input.settings}"
        " --label {wildcards.settings} --facts {input.facts} --out $(dirname {output.record}) > {log} 2>&1"
