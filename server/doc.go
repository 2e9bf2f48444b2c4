// Package server answers the browser and reads the files of the command line:
// it parses forms and CSV into the types of package wear, asks the store, and
// fills the structs that package views draws.
package server
