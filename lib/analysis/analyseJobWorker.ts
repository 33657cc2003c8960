/** Entry of the processes of `analyseFiles`. */
export { analyseJob as default } from "./analyseJob.js";
