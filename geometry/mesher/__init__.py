"""Mesh a stack with gmsh's OpenCASCADE kernel. The only package that imports gmsh.

The plates of a stack are fragmented together with the areas that carry loads, so that neighbours
share matching faces and every area is a set of whole element faces. Each plate is cut at its middle
plane, which guarantees two layers of elements.

Plates much thinner than the element size are meshed as if they were thicker, and the mesh is then
squeezed back: flat, well-aligned elements in place of very many or very bad ones.

gmsh has one state for a whole process, so threads that mesh wait for one another; meshes made at
the same time take processes of their own.
"""

from platestack.geometry.mesher.stack_mesh import make, session, thickened
