package web

// ListenBothWays is for the tests of the listener alone.
var ListenBothWays = listenBothWays
