// Package trigger is what happens between the metal passing a pickup and the controller's decision: vane wheels and
// their edges, which edge is active, how large the trigger lead may be, and the timing law by which a controller that
// sees one edge per firing places the spark.
//
// Units: crank degrees (quantity.Crank) BTDC for leads and advances, shaft degrees for vanes, rpm, µs. Errors of timing
// are shown minus commanded, early positive. The law is derived from first principles (constant speed between edges),
// not from any controller.
package trigger
