// Package heicwasm decodes HEIC pictures inside a WebAssembly sandbox: libheif and libde265, which are written in C++,
// compiled to WebAssembly and run by wazero, without cgo.
//
// It owns the module, its licences and the walls around it. The module sees no file, no clock, no environment and no
// output; its memory is bounded by the picture's size and given back to the system after each picture; its work is
// bounded by fuel, so that a hostile file cannot hold the processor; pictures are decoded one at a time. Whatever the
// module does, the worst that comes out is a wrong picture or an error.
//
// It refuses to say what a file is: sizes, dates and colours are read by package imaging from the headers, before.
//
// libheif and libde265 are free software under the LGPL: v0.4.5/README.md says where the module comes from and how to use
// one of your own.
package heicwasm
