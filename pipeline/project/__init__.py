"""The site file and everything it names, read into one frozen Project; every fault is reported at once."""

from pipeline.project.files import starter_folder
from pipeline.project.model import Day, Project, ProjectSetUp, Publication
from pipeline.project.placing import placed
from pipeline.project.read import read_project

__all__ = ["Day", "Project", "ProjectSetUp", "Publication", "placed", "read_project", "starter_folder"]
