import type { Diagnosis } from "../../diagnosis/types.js";
import { questions } from "../questions.js";
import { text } from "./parts.js";

/** The questions as a numbered list; empty where the log settles everything. */
export function questionsHtml(diagnosis: Diagnosis): string {
  const asked = questions(diagnosis);
  if (asked.length === 0) return "";
  const items = asked.map(({ ask, answers, caution }) => {
    const told =
      answers.length > 0 ? `<ul>${answers.map((one) => `<li>${text(one)}</li>`).join("")}</ul>` : "";
    return `<li>${text(ask)}${caution ? ` <span class="quiet">(${text(caution)})</span>` : ""}${told}</li>`;
  });
  return `<ol>${items.join("\n")}</ol>`;
}
