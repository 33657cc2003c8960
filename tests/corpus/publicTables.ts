import type { HeadingTable } from "./writeTable.js";

/**
 * Headings of logs as public programs write them, found on 2026-11-26 by searching public code for pieces of headings
 * (`actual_rpm`, `iq_ref`, `targetL`, `Setpoint,Input`); the tables in Turkish, Korean, Polish, Russian, German and
 * Italian are written from memory in the same manner. What a column means is what the code computes it from; the
 * numbers are those of the simulated rig.
 */
export const publicTables: readonly HeadingTable[] = [
  {
    habit: "feedforward and terms beside the speed",
    machine: "gear",
    trial: "loop",
    columns: `
Time_s = time s
Target_RPM = speedCommand {rev}/min
Actual_RPM = speed {rev}/min
Error = error -
Feedforward = duty {count} none
P_Term = error -
I_Term = kp -
PWM = duty {count} ?`,
  },
  {
    habit: "time in relative, Indonesian",
    machine: "gear",
    trial: "loop",
    columns: `
Waktu_Relative = time s ?
Target_RPM = speedCommand {rev}/min
Actual_RPM = speed {rev}/min
Error = error -`,
  },
  {
    habit: "slip of an induction motor",
    machine: "spindle",
    trial: "ramp",
    columns: `
millis = time ms
freq_hz = speedCommand Hz
sync_rpm = speedCommand {rev}/min ! none
actual_rpm = speed {rev}/min
slip = error - none
current_a = current A
known_load_kg = load -`,
  },
  {
    habit: "step trace in thousandths",
    machine: "gear",
    trial: "position",
    columns: `
t_ms = time ms
target_mrad = positionCommand mrad
pos_mrad = position mrad
vel_mrad_s = speed mrad/s
fault = zero -`,
  },
  {
    habit: "lines with a word in front",
    machine: "gear",
    trial: "position",
    columns: `
t_ms = time ms
target_deg = positionCommand deg
angle_deg = position deg
error_deg = positionError -
delta_v = voltage V ? voltageCommand
count = position {count} ?
pid_on = one -
p_term = positionError -
i_term = kp -
isr = row -`,
  },
  {
    habit: "German table of a machine",
    machine: "spindle",
    trial: "ramp",
    delimiter: ";",
    columns: `
ID = row -
Uhrzeit = time s ?
Drehzahl = speed {rev}/min ?
Leistungsaufnahme = power -
Vibration = error -
Lautstaerke = load -
Temperatur = temperature Cel ?
FehlerID = zero -`,
  },
  {
    habit: "steering rig",
    machine: "servo",
    trial: "loop",
    columns: `
time = time s ?
hand_torque = load -
iq_ref = currentCommand A ?
iq_actual = current A ?
motor_torque = torque N.m ?
theta_sw = position rad ?
omega_sw = speed rad/s ?`,
  },
  {
    habit: "simulated three-phase machine",
    machine: "small",
    trial: "speed",
    columns: `
t = time s ?
theta_e = electricalAngle rad ?
ia = currentU A ?
ib = currentV A ?
ic = currentW A ?
id_true = currentD A ?
iq_ref = currentCommand A ?
iq_true = current A ?
Te = torque N.m ?`,
  },
  {
    habit: "bicycle drive bench",
    machine: "gear",
    trial: "loop",
    columns: `
tick = row - ? sample
cadence_raw = speed {rev}/min ? none
iq_ref = currentCommand A ?
iq_actual = current A ?
erps = speed {rev}/s ?
hall_age = load -
session = one -
iq_request = currentCommand A ?`,
  },
  {
    habit: "telemetry of a position drive, _set and _meas",
    machine: "servo",
    trial: "position",
    columns: `
ts = time ms ?
pos = position rad ?
pos_set = positionCommand rad ?
vel = speed rad/s ?
vel_set = speedCommand rad/s ?
iq_ref = currentCommand A ?
iq_meas = current A ?
state = one -
fault = zero -`,
  },
  {
    habit: "current loop step, free shaft",
    machine: "small",
    trial: "current",
    columns: `
t = time s ?
iq_ref = currentCommand A ?
iq = current A ?
id = currentD A ?
vd = voltageD V ?
vq = voltageQ V ?
omega = speed rad/s ?
theta_e = electricalAngle rad ?`,
  },
  {
    habit: "observer log with capital letters",
    machine: "small",
    trial: "speed",
    columns: `
omega_ref = speedCommand rad/s ?
omega_pll = speed rad/s ?
Iq_ref = currentCommand A ?
Iq_meas = current A ?`,
  },
  {
    habit: "phase currents with a local reference",
    machine: "servo",
    trial: "current",
    columns: `
Ia = currentU A ?
Ib = currentV A ?
Ic = currentW A ?
Id = currentD A ?
Iq = current A ?
s_iq_ref = currentCommand A ?
oc_fault = zero -`,
  },
  {
    habit: "step trials of a wheel",
    machine: "gear",
    trial: "duty",
    columns: `
sample_num = row -
timestamp_ms = time ms
step_timestamp_ms = time ms ! time
PWM = duty {count} ?
encoder_count = position {count} ?
phase = one -`,
  },
  {
    habit: "reality and target",
    machine: "gear",
    trial: "position",
    columns: `
PWM = duty {count} ?
Encoder_Reality = position {count} ?
Encoder_Target = positionCommand {count} ?
Position_Angle = position deg ?`,
  },
  {
    habit: "Spanish words around RPM",
    machine: "gear",
    trial: "loop",
    columns: `
tiempo = time ms ?
RPM_actual = speed {rev}/min
RPM_objetivo = speedCommand {rev}/min
PWM = duty {count} ?
encoder_count = position {count} ?
error = error -
integral = kp -
derivada = acceleration - other`,
  },
  {
    habit: "commands and feedbacks of a cascade",
    machine: "servo",
    trial: "position",
    columns: `
t = time s ?
pos_cmd = positionCommand rad ?
pos_fbk = position rad ?
vel_cmd = speedCommand rad/s ?
vel_fbk = speed rad/s ?
pos_err = positionError -
iq_cmd = currentCommand A ?
i_q_fbk = current A ?
v_q_cmd = voltageQ V ?
consumed = power -`,
  },
  {
    habit: "wheels of a robot, capital side letters",
    machine: "gear",
    trial: "loop",
    columns: `
rpmL = speed {rev}/min
rpmR = speed {rev}/min
targetL = speedCommand {rev}/min ?
targetR = speedCommand {rev}/min ?
pwmL = duty {count} ?
pwmR = duty {count} ?
timestamp_us = time us`,
  },
  {
    habit: "wheel speed in v and w",
    machine: "gear",
    trial: "loop",
    columns: `
t = time s ?
vL = speed rad/s ?
vR = speed rad/s ?
pwmL = duty {count} ?
pwmR = duty {count} ?
yaw_deg = load -`,
  },
  {
    habit: "letters of the block diagram",
    machine: "gear",
    trial: "speed",
    columns: `
t = time s ?
r = speedCommand rad/s ?
y = speed rad/s ?
u = voltage V ? voltageCommand`,
  },
  {
    habit: "process variable spelled out",
    machine: "gear",
    trial: "loop",
    columns: `
time = time s ?
setpoint = speedCommand {rev}/min ?
process_variable = speed {rev}/min ?
manipulated_variable = duty % ?
error = error -
update_count = row -`,
  },
  {
    habit: "measured speed under load",
    machine: "gear",
    trial: "speed",
    columns: `
time = time s ?
setpoint = speedCommand {rev}/min ?
measured_speed = speed {rev}/min ?
error = error -
control_output = voltage V ? voltageCommand
load_torque = load -`,
  },
  {
    habit: "school robot, sides by words",
    machine: "gear",
    trial: "loop",
    columns: `
Time = time s ?
SetPoint = speedCommand {rev}/min ?
LeftEncoder = position {count} ?
RightEncoder = position {count} ?
LeftSpeed = speed {rev}/min ?
RightSpeed = speed {rev}/min ?
LeftOutput = duty 1 ?
RightOutput = duty 1 ?`,
  },
  {
    habit: "bench of a student team",
    machine: "spindle",
    trial: "ramp",
    columns: `
TICKS = time ms ?
BUS_VOLTAGE = voltageBus V ?
MOTOR_RPM = speed {rev}/min
MOTOR_CURRENT = current A ?
MOTOR_TORQUE = torque N.m ?
MOTOR_TEMP = temperature Cel ?
BATT_CURRENT = currentBus A ?
AIR_TEMP = driveTemperature Cel ?`,
  },
];

/** A second half, kept apart while the first was worked with; then its errors were looked at too, and no half is
 * unseen. */
export const heldTables: readonly HeadingTable[] = [
  {
    habit: "distance, speed and current of a carriage",
    machine: "gear",
    trial: "loop",
    columns: `
relative_time_ms = time ms
acceleration_m_s2 = acceleration -
velocity_rpm = speed {rev}/min
motor_current = current A ?
motor_temperature = temperature Cel ?
force_n = load -
position_deg = position deg`,
  },
  {
    habit: "estimator beside the measurement",
    machine: "servo",
    trial: "position",
    columns: `
timestamp = time s ?
measured_position = position rad ?
estimated_velocity = speed rad/s ?
position_uncertainty = kp -
motor_current = current A ?
motor_voltage = voltage V ?
motor_torque = torque N.m ?
electrical_power = power -
efficiency = load -`,
  },
  {
    habit: "throttle and three currents",
    machine: "small",
    trial: "speed",
    columns: `
time(ms) = time ms
Raw Throtttle = duty {count} ?
VBat = voltageBus V ?
CurrentA = currentU A ?
CurrentB = currentV A ?
CurrentC = currentW A ?`,
  },
  {
    habit: "bicycle with regeneration",
    machine: "spindle",
    trial: "ramp",
    columns: `
timestamp = time ms ?
vDC = voltageBus V ?
iDC = currentBus A ?
speed = speed {rev}/min ?
regen_method = zero -
throttle = duty % ?
iqRef = currentCommand A ?
iqFdb = current A ?
temp_fet = driveTemperature Cel ?
power = power -
error = zero -`,
  },
  {
    habit: "manipulator of two joints in radians",
    machine: "gear",
    trial: "position",
    columns: `
pc_time_s = time s
q1 = position rad ?
q2 = position rad ?
q1_ref = positionCommand rad ?
q2_ref = positionCommand rad ?
u1 = duty 1 ?
u2 = duty 1 ?`,
  },
  {
    habit: "position loop of a bus drive",
    machine: "servo",
    trial: "position",
    columns: `
ts = time ms ?
pRef = positionCommand deg ?
pAct = position deg ?
pDiff = positionError -
tqAct = torque % ?`,
  },
  {
    habit: "actual and target of a robot",
    machine: "gear",
    trial: "position",
    columns: `
robotTime = time s ?
qActual = position rad ?
qdActual = speed rad/s ?
qddTarget = acceleration - accelerationCommand
qdTarget = speedCommand rad/s ?
qTarget = positionCommand rad ?`,
  },
  {
    habit: "joints by name",
    machine: "gear",
    trial: "position",
    columns: `
t = time s ?
elbow_pos = position rad ?
wrist_pos = position rad ?
elbow_vel = speed rad/s ?
wrist_vel = speed rad/s ?
elbow_eff = torque N.m ?
wrist_eff = torque N.m ?`,
  },
  {
    habit: "profile and controller",
    machine: "gear",
    trial: "position",
    columns: `
time_ms = time ms
set_position = positionCommand rad ?
actual_position = position rad ?
set_speed = speedCommand rad/s ?
actual_speed = speed rad/s ?
motor_volts = voltage V ! voltageCommand`,
  },
  {
    habit: "French teaching rig",
    machine: "gear",
    trial: "loop",
    delimiter: ";",
    columns: `
Temps = time s ?
Consigne = speedCommand {rev}/min ?
Ecart = error -
Imoteur = current A ?
Vitesse = speed {rev}/min ?`,
  },
  {
    habit: "vehicle of a student team, Portuguese",
    machine: "spindle",
    trial: "ramp",
    delimiter: ";",
    columns: `
tempo_ms = time ms
acelerador = duty % ?
RPM = speed {rev}/min
Ibat = currentBus A ?
Imot = current A ?
Vbat = voltageBus V ?
temp_motor = temperature Cel ?`,
  },
  {
    habit: "wind rig, Spanish",
    machine: "gear",
    trial: "loop",
    delimiter: ";",
    columns: `
velocidad = speed {rev}/min ?
VelRef = speedCommand {rev}/min ?
pw = duty {count} ?
tiempo = time ms ?
Error = error -
Estado = one -`,
  },
  {
    habit: "valve of a test stand",
    machine: "gear",
    trial: "position",
    columns: `
time = time s ?
valve_pos_cmd = positionCommand {rev} ?
valve_pos = position {rev} ?
valve_vel = speed {rev}/s ?
valve_voltage = voltageBus V ?
valve_current = current A ?
valve_temperature = temperature Cel ?
tank_pressure = load -
controller_p_component = positionError -`,
  },
  {
    habit: "relative time and phases of a car",
    machine: "spindle",
    trial: "ramp",
    columns: `
Relative time (s) = time s
RPM = speed {rev}/min
Total Current = currentBus A ?
Phase A Current = currentU A ?
Phase B Current = currentV A ?
Phase C Current = currentW A ?
Battery Voltage = voltageBus V ?
Throttle = duty % ?
Motor Temperature = temperature Cel ?`,
  },
  {
    habit: "angle, target and inner speed",
    machine: "gear",
    trial: "position",
    columns: `
angle = position deg ?
target = positionCommand deg ?
error = positionError -
vel_cmd = speedCommand deg/s ?
d_term = acceleration - other
i_term = kp -`,
  },
  {
    habit: "shot record of a flywheel",
    machine: "gear",
    trial: "speed",
    columns: `
time_s = time s
commanded_rpm = speedCommand {rev}/min
actual_rpm = speed {rev}/min
tx_deg = load -
attempt = one -`,
  },
  {
    habit: "duty and measured, spelled briefly",
    machine: "gear",
    trial: "loop",
    columns: `
time_ms = time ms
setpoint_rpm = speedCommand {rev}/min
measured_rpm = speed {rev}/min
duty = duty 1 ?`,
  },
  {
    habit: "loop of a library",
    machine: "gear",
    trial: "position",
    columns: `
timestamp = time ms ?
setpoint = positionCommand {count} ?
input = position {count} ?
output = duty {count} ?
error = positionError -
p = positionError -
i = kp -
d = acceleration - other`,
  },
  {
    habit: "Turkish bench",
    machine: "gear",
    trial: "loop",
    delimiter: ";",
    columns: `
Zaman (ms) = time ms
Hedef Hız (d/dk) = speedCommand {rev}/min
Ölçülen Hız (d/dk) = speed {rev}/min
Akım (A) = current A
Gerilim (V) = voltage V`,
  },
  {
    habit: "Korean servo",
    machine: "servo",
    trial: "position",
    columns: `
시간(s) = time s
지령위치(deg) = positionCommand deg
현재위치(deg) = position deg
속도(rpm) = speed {rev}/min
전류(A) = current A
부하율(%) = load -`,
  },
  {
    habit: "Polish lab, abbreviations",
    machine: "gear",
    trial: "loop",
    delimiter: ";",
    columns: `
czas [ms] = time ms
n_zad [obr/min] = speedCommand {rev}/min
n_rz [obr/min] = speed {rev}/min
I_s [A] = current A
U_s [V] = voltage V`,
  },
  {
    habit: "Russian, transliterated",
    machine: "gear",
    trial: "loop",
    delimiter: ";",
    columns: `
vremya = time ms ?
skorost_zad = speedCommand {rev}/min ?
skorost = speed {rev}/min ?
tok = current A ?
napryazhenie = voltage V ?`,
  },
  {
    habit: "German without umlauts",
    machine: "servo",
    trial: "speed",
    delimiter: ";",
    columns: `
Zeit_ms = time ms
nSoll = speedCommand {rev}/min ?
nIst = speed {rev}/min ?
IqSoll = currentCommand A ?
IqIst = current A ?
Schleppfehler = positionError -
Zwischenkreisspannung = voltageBus V ?`,
  },
  {
    habit: "Italian commissioning",
    machine: "servo",
    trial: "position",
    delimiter: ";",
    columns: `
Tempo(ms) = time ms
Quota comandata(gradi) = positionCommand deg
Quota reale(gradi) = position deg
Velocità reale(giri/min) = speed {rev}/min
Corrente motore(A) = current A
Errore di inseguimento = positionError -`,
  },
];
