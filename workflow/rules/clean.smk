rule clean_recording:
    """Mains, drift, bad electrodes, eyes and muscle: what can be removed, and an account."""
    input:
        recording=f"{RAW}_eeg.vhdr",
        channels=f"{RAW}_channels.tsv",
        sidecar=f"{RAW}_eeg.json",
        settings=settings_file,
        facts=sheet_facts,
    output:
        recording=multiext(f"{CLEAN}_eeg", ".vhdr", ".eeg", ".vmrk", ".json"),
        channels=f"{CLEAN}_channels.tsv",
        events=multiext(f"{CLEAN}_events", ".tsv", ".json"),
    log:
        f"{LOGS}/clean_recording-{{settings}}.log",
    params:
        step=STEPS / "clean_recording.py",
    conda:
        "../envs/aftersit.yaml"
    group:
        "sitting"
    shell:
        "python {params.step} --recording {input.recording}"
        " --out {output.recording[0]} --settings {input.settings} > {log} 2>&1"
