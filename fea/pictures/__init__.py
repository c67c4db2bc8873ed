"""Pictures of a run: the bent press with a field on it, its mesh, charts of a comparison.

`scene` says what to show, `fields` which numbers and colours, `surface` and `cut` make triangles,
`render` draws them, `sheet` lays out words and scale around them; the other modules are
the pictures.
"""

from platestack.fea.pictures.assembly import assembly_lines, assembly_picture
from platestack.fea.pictures.beside import DrawnOption, beside_picture
from platestack.fea.pictures.distribution import distribution_picture
from platestack.fea.pictures.interface_maps import interface_maps
from platestack.fea.pictures.nesting import nesting_picture
from platestack.fea.pictures.offcentre import OffsetChart, offset_picture
from platestack.fea.pictures.press import all_pictures, mesh_picture
from platestack.fea.pictures.proof import ProofCurve, proof_picture
from platestack.fea.pictures.render import RenderingError, preflight
from platestack.fea.pictures.scene import (
    Bar,
    Mark,
    PartInfo,
    SceneInfo,
    StackInfo,
    mesh_scene,
    scene_info,
)
from platestack.fea.pictures.tightening import TighteningChart, tightening_picture
from platestack.fea.pictures.tornado import TornadoBar, tornado_picture
from platestack.fea.pictures.trade import TradePoint, trade_picture
