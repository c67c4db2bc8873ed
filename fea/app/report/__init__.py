"""The dossier of a run: one HTML file and one PDF, both from one content."""

from platestack.fea.app.report.dossier import write
