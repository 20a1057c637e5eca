"""From "volts and no current" to the search, by hand meter, for the joint, lead or part.

Owns which finding asks for a search of which symptom.
"""

from collections.abc import Mapping

from forebay.asking import AskedError
from forebay.prove import found
from forebay.prove.found import Result
from forebay.prove.scene import Scene
from keeper.channels import CH_NAME, CHANNELS

# What a step names, and the symptom (of `forebay.finding.symptoms`) that is searched by it.
SYMPTOMS: Mapping[str, str] = {
    found.PUMP_OPEN: "pump", found.PANEL_OPEN: "pump", found.LAMPS_OPEN: "lamps",
    found.GENERATOR_OPEN: "lamps", found.VALVE_STILL.finding: "valve",
}


def searched(scene: Scene, result: Result) -> Result:
    """Return a step's result with what a search by hand meter found, if it asks for one.

    Raises Left where the person leaves: the search goes on there another time.
    """
    if result.finding not in SYMPTOMS:
        return result
    from forebay.finding.sitting import find

    live = scene.look()
    sensed = {str(row[CH_NAME]): live[str(row[CH_NAME])] for row in CHANNELS}
    scene.tell(result.said + ". A hand meter finds where; skip REASON leaves a point out.")
    try:
        finding = find(scene.rig, scene.answers, scene.tell, scene.kept,
                       symptom=SYMPTOMS[result.finding],
                       live={**sensed, "state": live["state"]})
    except AskedError as error:
        return result._replace(said=f"{result.said}. Not searched: {error}")
    lines = finding.lines()
    for line in lines:
        scene.tell(line)
    left = "; or ".join(one.words for one in finding.left)
    return result._replace(said=f"{result.said}. {finding.asked} readings leave: {left}")
