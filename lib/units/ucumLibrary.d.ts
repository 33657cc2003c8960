declare module "@lhncbc/ucum-lhc" {
  export const UcumLhcUtils: {
    getInstance(): {
      convertUnitTo(
        from: string,
        value: number,
        to: string,
      ): { status: string; toVal: number | null; msg?: readonly string[] };
    };
  };
}
