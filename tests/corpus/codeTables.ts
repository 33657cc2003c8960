import type { HeadingTable } from "./writeTable.js";

/**
 * Headings as public programs print or write them, found on 2026-11-26 by searching public code for `Serial.print`,
 * `writerow` and the like beside words of motors (six of them wholly or partly from memory); what a column means is
 * what the code computes it from. The numbers are those of the simulated rig. Two columns of one signal stand for a raw
 * and a filtered value.
 */
export const codeTables: readonly HeadingTable[] = [
  {
    habit: "microcontroller bench of a small gear motor",
    machine: "gear",
    trial: "loop",
    columns: `
timestamp_ms = time ms
target_rpm = speedCommand {rev}/min
actual_rpm = speed {rev}/min
error_rpm = error - none
pwm = duty {count} ?
direction = one -
status = status -
raw_rpm = speed {rev}/min
integral = kp -
output_saturated = zero -
bench_phase = one -`,
  },
  {
    habit: "desktop window that saves gains beside values",
    machine: "gear",
    trial: "loop",
    columns: `
Time = time s ?
Target_RPM = speedCommand {rev}/min
Actual_RPM = speed {rev}/min
Kp = kp -
Ki = kp -
Kd = zero -
Position = position {count} ?`,
  },
  {
    habit: "terms of a controller in percent",
    machine: "gear",
    trial: "loop",
    columns: `
timestamp_ms = time ms
target_rpm = speedCommand {rev}/min
actual_rpm = speed {rev}/min
error_rpm = error - none
i_term_percent = duty % none
pwm_duty = duty {count} ?`,
  },
  {
    habit: "Indonesian download, counter as time",
    machine: "gear",
    trial: "loop",
    columns: `
Waktu_Relative = row -
Target_RPM = speedCommand {rev}/min
Actual_RPM = speed {rev}/min
Error = error -`,
  },
  {
    habit: "Indonesian words",
    machine: "gear",
    trial: "loop",
    columns: `
Waktu (ms) = time ms
Kecepatan (RPM) = speed {rev}/min
Arus (A) = current A
Tegangan (V) = voltage V
Suhu = temperature Cel ?`,
  },
  {
    habit: "sketch with P and I terms",
    machine: "gear",
    trial: "loop",
    columns: `
Time_s = time s
Target_RPM = speedCommand {rev}/min
Actual_RPM = speed {rev}/min
Error = error -
P_Term = error - none
I_Term = kp -
PWM = duty {count} ?`,
  },
  {
    habit: "wheels with observers",
    machine: "gear",
    trial: "loop",
    columns: `
time_ms = time ms
rpm_L_real = speed {rev}/min
omega_hat_L = speed rad/s ?
d_hat_L = kp -
u_L = duty {count} ?
rpm_R_real = speed {rev}/min
omega_hat_R = speed rad/s ?
d_hat_R = kp -
u_R = duty {count} ?`,
  },
  {
    habit: "joint of an arm, desired and actual",
    machine: "servo",
    trial: "position",
    columns: `
time = time s ?
q_des = positionCommand rad ?
q_act = position rad ?
dq_des = speedCommand rad/s ?
dq_act = speed rad/s ?
ddq_des = acceleration - accelerationCommand
ddq_act = acceleration -
torque = torque N.m ?
stage = one -`,
  },
  {
    habit: "current drive with a load outside",
    machine: "small",
    trial: "current",
    columns: `
t = time s ?
theta = position rad ?
omega = speed rad/s ?
tau_cmd = torqueCommand N.m ?
tau_ext = zero - none
iq_ref = currentCommand A ?
iq = current A ?`,
  },
  {
    habit: "simulated joint with everything",
    machine: "servo",
    trial: "position",
    columns: `
time = time s ?
q = position rad ?
dq = speed rad/s ?
q_des = positionCommand rad ?
dq_des = speedCommand rad/s ?
position_error = positionError -
velocity_error = error -
tau_cmd = torqueCommand N.m ?
tau_applied = torque N.m ?
is_saturated = zero -`,
  },
  {
    habit: "dots spelled out",
    machine: "servo",
    trial: "position",
    columns: `
t = time s ?
q = position rad ?
qdot = speed rad/s ?
q_ref = positionCommand rad ?
qdot_ref = speedCommand rad/s ?
qddot_ref = acceleration - accelerationCommand
error = positionError -
tau_cmd = torqueCommand N.m ?
current = current A ?
heat_power = power -`,
  },
  {
    habit: "Portuguese firmware",
    machine: "gear",
    trial: "speed",
    columns: `
tempo_ms = time ms
rpm_encoder_A_B = speed {rev}/min
corrente_mA = current mA
voltas = position {rev} ?`,
  },
  {
    habit: "Portuguese wheels with one supply",
    machine: "gear",
    trial: "speed",
    columns: `
tempo = time s ?
rpmEsquerdo = speed {rev}/min
rpmDireito = speed {rev}/min
corrente = currentBus A ? current`,
  },
  {
    habit: "smart servo",
    machine: "gear",
    trial: "position",
    columns: `
Time (s) = time s
Position = position {count} ?
GoalPosition = positionCommand {count} ?
Velocity = speed {rev}/min ?
Load = load -`,
  },
  {
    habit: "turns and turns a second",
    machine: "small",
    trial: "position",
    columns: `
Time (s) = time s
Position (rev) = position {rev}
Velocity (rev/s) = speed {rev}/s`,
  },
  {
    habit: "converter run with efficiency",
    machine: "spindle",
    trial: "ramp",
    columns: `
Time (s) = time s
Speed (RPM) = speed {rev}/min
Current (A) = current A
Torque (Nm) = torque N.m
Slip (%) = load -
Power In (kW) = power -
Power Out (kW) = power -
Efficiency (%) = load -`,
  },
  {
    habit: "two wheels, filtered and raw",
    machine: "gear",
    trial: "loop",
    columns: `
time = time ms ?
target_L = speedCommand {rev}/min ?
target_R = speedCommand {rev}/min ?
vel_L = speed {rev}/min ?
vel_R = speed {rev}/min ?
pwm_L = duty {count} ?
pwm_R = duty {count} ?
enc_L = position {count} ?
enc_R = position {count} ?
error_L = error -
error_R = error -`,
  },
  {
    habit: "comparison of controllers",
    machine: "servo",
    trial: "speed",
    columns: `
time = time s ?
ia = currentU A ?
ib = currentV A ?
ic = currentW A ?
id = currentD A ?
iq = current A ?
iq_reference = currentCommand A ?
mechanical_speed = speed rad/s ?
electromagnetic_torque = torque N.m ?
load_torque = zero - none`,
  },
  {
    habit: "real-time loop with its deadlines",
    machine: "servo",
    trial: "position",
    columns: `
cycle = row -
wake_ns = time ns
joint_count = one -
flags = zero -
mode = one -
cmd_pos = positionCommand rad ?
cmd_vel = speedCommand rad/s ?
cmd_tau = torqueCommand N.m ?
meas_pos = position rad ?
meas_vel = speed rad/s ?
meas_tau = torque N.m ?`,
  },
  {
    habit: "process words",
    machine: "gear",
    trial: "loop",
    file: "motor speed loop.csv",
    columns: `
time = time s ?
setpoint = speedCommand {rev}/min ?
process_variable = speed {rev}/min ?
control_variable = duty % ?`,
  },
  {
    habit: "labels of a hobby controller",
    machine: "gear",
    trial: "loop",
    columns: `
ms = time ms
input = speed {rev}/min ?
setpoint = speedCommand {rev}/min ?
error = error -
output = duty {count} ?`,
  },
  {
    habit: "adaptive control",
    machine: "gear",
    trial: "position",
    columns: `
t = time s ?
ref = positionCommand rad ?
pos = position rad ?
u = voltage V ? voltageCommand
est_a21 = kp -
est_b2 = kp -
K1 = kp -
K2 = kp -`,
  },
  {
    habit: "exoskeleton sensors",
    machine: "servo",
    trial: "position",
    columns: `
state_time = time s ?
temperature = driveTemperature Cel ?
winding_temp = temperature Cel ?
motor_angle = position rad ?
motor_velocity = speed rad/s ?
motor_current = current mA ?
motor_voltage = voltage mV ?
battery_voltage = voltageBus mV ?
battery_current = currentBus mA ?`,
  },
  {
    habit: "drive data without a clock",
    machine: "servo",
    trial: "speed",
    columns: `
i_d = currentD A ?
i_q = current A ?
u_d = voltageD V ?
u_q = voltageQ V ?
speed = speed {rev}/min ?
temp = temperature Cel ?
torque = torque N.m ?`,
  },
  {
    habit: "stream of a field-oriented drive",
    machine: "small",
    trial: "speed",
    columns: `
time = time ms ?
vel_target = speedCommand rad/s ?
vel_actual = speed rad/s ?
vel_error = error -
iq_target = currentCommand A ?
iq_actual = current A ?
vq = voltageQ V ?
integral = kp -`,
  },
  {
    habit: "fast log of a current loop",
    machine: "small",
    trial: "current",
    columns: `
idx = row -
iq_target = currentCommand A ?
iq_meas = current A ?
iq_raw = current A ?
uq_final = voltageQ V ?`,
  },
  {
    habit: "speed from a tracking loop",
    machine: "small",
    trial: "speed",
    columns: `
omega_ref = speedCommand rad/s ?
omega_pll = speed rad/s ?
Iq_ref = currentCommand A ?
Iq_meas = current A ?`,
  },
  {
    habit: "trajectory with errors in the middle",
    machine: "servo",
    trial: "position",
    columns: `
time = time s ?
desired_position = positionCommand rad ?
actual_position = position rad ?
error_position = positionError -
desired_velocity = speedCommand rad/s ?
actual_velocity = speed rad/s ?
error_velocity = error -`,
  },
  {
    habit: "machine model bus",
    machine: "servo",
    trial: "speed",
    columns: `
t = time s ?
rpm = speed {rev}/min
ia = currentU A ?
ib = currentV A ?
ic = currentW A ?
theta_m = position rad ?
Tem = torque N.m ?
id = currentD A ?
iq = current A ?`,
  },
  {
    habit: "wheel with its supply",
    machine: "small",
    trial: "speed",
    columns: `
timestamp = time s ?
motor_velocity = speed {rev}/min ?
motor_current = current A ?
bus_current = currentBus A ?
bus_voltage = voltageBus V ?`,
  },
  {
    habit: "Spanish program with a derived speed",
    machine: "gear",
    trial: "speed",
    columns: `
Tiempo = time s ?
Velocidad = speed rad/s ?
Posición = position rad ?`,
  },
  {
    habit: "steps of a hand-held tachometer",
    machine: "gear",
    trial: "duty",
    columns: `
PWM = duty {count} ?
PULSES/Encoder Values = position {count}
RPM = speed {rev}/min
ERROR = zero -`,
  },
  {
    habit: "torque arm with forces",
    machine: "servo",
    trial: "position",
    columns: `
t = time s ?
q_rad = position rad
qd_rad = speed rad/s ?
tau_cmd = torqueCommand N.m ?
tau_meas = torque N.m ?
Fx = load -
Fy = zero -`,
  },
  {
    habit: "serial plotter of four wheels",
    machine: "gear",
    trial: "loop",
    columns: `
t = time s ?
rpm_LL = speed {rev}/min
rpm_LR = speed {rev}/min
rpm_UL = speed {rev}/min
rpm_UR = speed {rev}/min
Setpoint = speedCommand {rev}/min ?
out_LL = duty {count} ?
out_LR = duty {count} ?`,
  },
  {
    habit: "German display",
    machine: "gear",
    trial: "duty",
    delimiter: ";",
    columns: `
Zeit = time s ?
Spannung = voltage V ?
Strom = current A ?
Drehzahl = speed {rev}/min ?
Temperatur = temperature Cel ?`,
  },
  {
    habit: "battery pack and throttle",
    machine: "small",
    trial: "duty",
    columns: `
time = time s ?
throttle = duty % ?
voltage = voltageBus V ?
current = currentBus A ? current
rpm = speed {rev}/min`,
  },
  {
    habit: "hall drive record",
    machine: "small",
    trial: "speed",
    columns: `
time_us = time us
iq_target = currentCommand mA ?
iq_set = currentCommand mA ?
iq = current mA ?
id = currentD mA ?
duty = duty 1 ?
rpm = speed {rev}/min
pos = position {count} ?
fault = zero -`,
  },
  {
    habit: "encoder ticks at the wheels of a rover",
    machine: "gear",
    trial: "loop",
    columns: `
t_us = time us
cmd_v = speedCommand rad/s ?
meas_l = speed rad/s ?
duty_l_dbg = duty 1 ?
dir_l = one -
en = one -
ticks_l = position {count}`,
  },
  {
    habit: "model test of a controller in Chinese",
    machine: "servo",
    trial: "speed",
    columns: `
时间 = time s ?
速度给定 = speedCommand {rev}/min ?
速度反馈 = speed {rev}/min ?
电流给定 = currentCommand A ?
电流反馈 = current A ?`,
  },
  {
    habit: "Vietnamese thesis",
    machine: "gear",
    trial: "loop",
    columns: `
thoi_gian_ms = time ms
toc_do_dat = speedCommand {rev}/min ?
toc_do_thuc = speed {rev}/min ?
dong_dien = current A ?`,
  },
];
