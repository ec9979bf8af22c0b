# From uploads to reports. The sittings come from the plan that a night writes
# (`scripts/aftersit nightly`); without one, all sittings of the clinic are meant.
# By hand:  snakemake --snakefile Snakefile --directory CLINIC --cores 2
from snakemake.utils import min_version

min_version("9.0")

# The parts, in the order in which data flows.
include: "workflow/rules/common.smk"
include: "workflow/rules/bids.smk"
include: "workflow/rules/clean.smk"
include: "workflow/rules/regions.smk"
include: "workflow/rules/replay.smk"
include: "workflow/rules/pages.smk"


rule all:
    default_target: True
    input:
        stamps(),
        progress_pages(),
