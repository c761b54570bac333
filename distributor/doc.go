// Package distributor is the unit itself: how its gear steps and turns as it drops in, how it must sit, which tower
// gets which wire, and where the rotor stands against the cap when the spark jumps.
//
// All angles of the unit are shaft degrees (quantity.Shaft), counted in rotor direction unless a name says otherwise;
// rotations are named as seen from above the cap. Sources: helical-gear geometry from gear handbooks (terms of ISO
// 1122-1); material pairs and shim practice are common practice of the trade and the cam maker's word comes first.
package distributor
