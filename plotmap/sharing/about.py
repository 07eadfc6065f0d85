"""What the folder says about itself: what was changed before it was shared."""

from __future__ import annotations

from plotmap.model.labels import labels_of
from plotmap.model.settings import Settings
from plotmap.model.sharing import OTHER_SPECIES, Audience

_EVERYBODY = ("species", "stems", "findings")


def about_sharing(settings: Settings, audience: Audience) -> str:
    """Return what readers are told, the same whether any species is sensitive or not.

    Parameters
    ----------
    settings : Settings
        Title and language.
    audience : Audience
        Who the results are for.
    """
    labels = labels_of(settings)
    title = settings.survey.title.strip() or labels("share.untitled")
    lines = [labels(f"share.title_{audience}", title=title), "", labels("share.about")]
    lines += [f"- {labels(f'share.{audience}_plots')}"]
    lines += [
        f"- {labels(f'share.{key}', group=OTHER_SPECIES) if key == 'species' else labels(f'share.{key}')}"
        for key in _EVERYBODY
    ]
    lines += ["", labels("share.caution")]
    return "\n".join(lines) + "\n"
