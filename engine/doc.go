// Package engine is the metal of the engine as far as timing needs it: cylinders and firing order, positions on the
// 720° cycle, piston travel, marks on the damper and true top dead centre.
//
// It defines, once for the whole house: the zero mark (θ = 0 is top dead centre of cylinder 1's firing stroke), the
// sign of "before" (an advance of a degrees BTDC is the position −a), the views from which rotations are named, and the
// factor two between crank and distributor shaft. Crank angle counts degrees in running direction; a four-stroke cycle
// is 720°.
//
// Sources: slider–crank geometry and arcs of circles from any engine-mechanics textbook and handbook; conventions of
// rotation as in ISO 1204 and SAE J824, which look from opposite ends, so every Direction is printed with its view.
package engine
