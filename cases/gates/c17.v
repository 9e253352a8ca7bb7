// The six-NAND circuit of F. Brglez and H. Fujiwara, "A neutral netlist of 10 combinational benchmark
// circuits and a target translator in FORTRAN", ISCAS 1985: nets carry the paper's numbers.
module c17 (N1, N2, N3, N6, N7, N22, N23);
  input N1, N2, N3, N6, N7;
  output N22, N23;
  wire N10, N11, N16, N19;
  nand G10 (N10, N1, N3);
  nand G11 (N11, N3, N6);
  nand G16 (N16, N2, N11);
  nand G19 (N19, N11, N7);
  nand G22 (N22, N10, N16);
  nand G23 (N23, N16, N19);
endmodule
