import ts from "typescript";

/** One small change to a source text, of the kind a slip of the hand makes. */
export interface Mutant {
  readonly file: string;
  readonly line: number;
  readonly from: number;
  readonly to: number;
  readonly kind: string;
  readonly before: string;
  readonly after: string;
}

/** What each operator is exchanged for, and the kind of slip that is. */
export const operatorSwaps: ReadonlyMap<ts.SyntaxKind, readonly [string, string]> = new Map([
  [ts.SyntaxKind.PlusToken, ["arithmetic", "-"]],
  [ts.SyntaxKind.MinusToken, ["arithmetic", "+"]],
  [ts.SyntaxKind.AsteriskToken, ["arithmetic", "/"]],
  [ts.SyntaxKind.SlashToken, ["arithmetic", "*"]],
  [ts.SyntaxKind.PlusEqualsToken, ["arithmetic", "-="]],
  [ts.SyntaxKind.MinusEqualsToken, ["arithmetic", "+="]],
  [ts.SyntaxKind.AsteriskEqualsToken, ["arithmetic", "/="]],
  [ts.SyntaxKind.SlashEqualsToken, ["arithmetic", "*="]],
  [ts.SyntaxKind.LessThanToken, ["boundary", "<="]],
  [ts.SyntaxKind.LessThanEqualsToken, ["boundary", "<"]],
  [ts.SyntaxKind.GreaterThanToken, ["boundary", ">="]],
  [ts.SyntaxKind.GreaterThanEqualsToken, ["boundary", ">"]],
  [ts.SyntaxKind.EqualsEqualsEqualsToken, ["equality", "!=="]],
  [ts.SyntaxKind.ExclamationEqualsEqualsToken, ["equality", "==="]],
  [ts.SyntaxKind.AmpersandAmpersandToken, ["logic", "||"]],
  [ts.SyntaxKind.BarBarToken, ["logic", "&&"]],
]);

const turned: Readonly<Record<string, string>> = {
  min: "max",
  max: "min",
  sin: "cos",
  cos: "sin",
  every: "some",
  some: "every",
};

/**
 * Every mutant of a source text: operators exchanged, conditions fixed to true and false, calls of opposite meaning
 * exchanged, truth values and signs turned, bodies without a result emptied. Types, imports and texts are left alone.
 */
export function mutantsOf(file: string, text: string): Mutant[] {
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.ES2022, true);
  const found: Mutant[] = [];
  const put = (node: ts.Node, kind: string, after: string): void => {
    const from = node.getStart(source);
    const { line } = source.getLineAndCharacterOfPosition(from);
    found.push({ file, line: line + 1, from, to: node.getEnd(), kind, before: node.getText(source), after });
  };
  const conditionOf = (node: ts.Node): ts.Expression | undefined => {
    if (ts.isIfStatement(node)) return node.expression;
    return ts.isConditionalExpression(node) ? node.condition : undefined;
  };
  const visit = (node: ts.Node): void => {
    if (ts.isTypeNode(node) || ts.isImportDeclaration(node) || ts.isInterfaceDeclaration(node)) return;
    if (ts.isBinaryExpression(node)) {
      const swap = operatorSwaps.get(node.operatorToken.kind);
      const joinsText = [node.left, node.right].some(ts.isStringLiteralLike);
      if (swap && !joinsText) put(node.operatorToken, swap[0], swap[1]);
    }
    const condition = conditionOf(node);
    if (condition) {
      put(condition, "condition", "true");
      put(condition, "condition", "false");
    }
    if (node.kind === ts.SyntaxKind.TrueKeyword) put(node, "truth", "false");
    if (node.kind === ts.SyntaxKind.FalseKeyword) put(node, "truth", "true");
    if (ts.isPrefixUnaryExpression(node)) {
      if (node.operator === ts.SyntaxKind.MinusToken) put(node, "sign", node.operand.getText(source));
      if (node.operator === ts.SyntaxKind.ExclamationToken) put(node, "truth", node.operand.getText(source));
    }
    if (ts.isCallExpression(node) && ts.isPropertyAccessExpression(node.expression)) {
      const { name } = node.expression;
      if (Object.hasOwn(turned, name.text)) put(name, "call", turned[name.text]);
    }
    if (ts.isExpressionStatement(node) && ts.isCallExpression(node.expression)) put(node, "statement", ";");
    ts.forEachChild(node, visit);
  };
  visit(source);
  return found;
}

/** A text with one mutant in it. */
export function applied(text: string, { from, to, after }: Mutant): string {
  return text.slice(0, from) + after + text.slice(to);
}
