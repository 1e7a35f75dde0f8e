"""Who may do what in the lab, and what of it takes two people."""

from __future__ import annotations

from core.gate import navigation
from core.gate.access import Role, register
from core.gate.token_scopes import register_uploading
from core.gate.two_people import TwoPersonRule, register_rules

READERS = {Role.TECHNICIAN, Role.REVIEWER, Role.OFFICE}
WORKERS = {Role.TECHNICIAN, Role.REVIEWER}

register(
    {
        "labtests.home:view": READERS,
        "labtests.bench:view": READERS,
        "labtests.conditioning:view": READERS,
        "labtests.conditioning:write": WORKERS,
        "labtests.upload:view": READERS,
        "labtests.upload:create": WORKERS,
        "labtests.test:view": READERS,
        "labtests.test:amend": WORKERS,
        "labtests.test:review": {Role.REVIEWER},
        "labtests.specimen:view": READERS,
        "labtests.specimen:write": WORKERS,
        "labtests.shoe:view": READERS,
        "labtests.shoe:publish": {Role.REVIEWER},
        "labtests.rig:view": READERS,
        "labtests.rig:write": WORKERS,
        "labtests.rig:clear": {Role.REVIEWER},
        "labtests.incident:view": READERS,
        "labtests.incident:propose": WORKERS,
        "labtests.incident:carry_out": {Role.REVIEWER},
        "labtests.calibration:sign": WORKERS,
        "labtests.calibration:strike": {Role.REVIEWER},
        "labtests.check:view": READERS,
        "labtests.check:write": WORKERS,
        "labtests.check:retire": {Role.REVIEWER},
        "labtests.study:view": READERS,
        "labtests.study:write": WORKERS,
        "labtests.study:adopt": {Role.REVIEWER},
        "labtests.model:view": READERS,
        "labtests.model:draft": {Role.REVIEWER},
        "labtests.model:adopt": {Role.REVIEWER},
        "labtests.protocol:view": READERS,
        "labtests.protocol:draft": {Role.REVIEWER},
        "labtests.protocol:adopt": {Role.REVIEWER},
        "labtests.audit:view": READERS,
    }
)

# All that the token of a rig's own computer may do.
register_uploading(["labtests.upload:create"])

register_rules(
    [
        TwoPersonRule(
            "labtests.test:review",
            "Decide on a test: approve, keep on record, hold, void, accept a successor",
            "its operator; who uploaded it",
            "own_test",
        ),
        TwoPersonRule(
            "labtests.test:approve",
            "Approve a test or keep it on record, where its conditioning hours come from the log",
            "who wrote those hours: put the specimen in or took it out",
            "own_hours",
        ),
        TwoPersonRule(
            "labtests.incident:decide",
            "Decide on an incident: carry it out or dismiss it",
            "operator or uploader of a test it touches",
            "own_test",
        ),
        TwoPersonRule(
            "labtests.incident:void", "Carry out an incident that voids tests", "who proposed it", "own_proposal"
        ),
        TwoPersonRule("labtests.calibration:sign", "Sign a calibration", "who recorded it", "own_calibration"),
        TwoPersonRule("labtests.rig:clear", "Clear a rig", "the operator of a check that stopped it", "own_check"),
        TwoPersonRule("labtests.protocol:adopt", "Take a protocol into use", "its author", "own_draft"),
        TwoPersonRule("labtests.scoring_model:adopt", "Take a scoring model into use", "its author", "own_draft"),
        TwoPersonRule("labtests.study:adopt", "Adopt temperature coefficients", "who proposed them", "own_proposal"),
    ]
)

navigation.register(
    "Lab",
    [
        navigation.Place("Overview", "labtests:home", "labtests.home:view"),
        navigation.Place(
            "Bench day",
            "labtests:bench-day",
            "labtests.bench:view",
            also=("labtests:conditioning-list", "labtests:chamber-list", "/lab/climate/"),
        ),
        navigation.Place(
            "Upload",
            "labtests:upload-create",
            "labtests.upload:create",
            also=("labtests:upload-list", "labtests:test-type-in"),
        ),
        navigation.Place(
            "Specimens",
            "labtests:specimen-list",
            "labtests.specimen:view",
            also=(
                "labtests:specimens-receive",
                "labtests:specimen-labels",
                "labtests:specimen-open",
                "labtests:retest-list",
            ),
        ),
        navigation.Place("Tests", "labtests:test-list", "labtests.test:view", also=("labtests:curve-overlay",)),
        navigation.Place("Publish", "labtests:shoe-list", "labtests.shoe:view"),
        navigation.Place(
            "Rigs",
            "labtests:rig-list",
            "labtests.rig:view",
            also=("labtests:rig-create", "labtests:incident-list", "labtests:incident-create", "/lab/calibrations/"),
        ),
        navigation.Place("Checks", "labtests:check-home", "labtests.check:view"),
        navigation.Place("Models", "labtests:model-list", "labtests.model:view", also=("labtests:model-create",)),
        navigation.Place(
            "Protocols", "labtests:protocol-list", "labtests.protocol:view", also=("labtests:protocol-create",)
        ),
        navigation.Place("Audit", "labtests:audit-list", "labtests.audit:view"),
    ],
    order=10,
)
