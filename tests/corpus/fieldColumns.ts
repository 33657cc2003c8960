/**
 * What the columns of the real logs hold, in order, by the README beside them (`shared/recordings/field`): the first
 * table of each file. `|`: either is right; `?`: not told, or not of the motor.
 */
export const fieldColumns: Readonly<Record<string, string>> = {
  "brushless-axis-hall/dataset.mat": "time position speed duty",
  "brushless-cogging-bench/acc_current.txt": "time position speed current voltageQ|voltage ?",
  "brushless-cogging-bench/rolling_data.txt": "time position speed current voltageQ|voltage ?",
  "brushless-cogging-bench/speed_test.txt": "time position speed speedCommand current other",
  "carrier-robot-wheels/b1.csv": "time other other speedCommand speedCommand speed speed voltageBus",
  "carrier-robot-wheels/divaovadira.csv":
    "time other other other other ? ? speedCommand speedCommand speed speed voltageBus",
  "carrier-robot-wheels/velocity_20260502_063609.csv":
    "time speedCommand speed voltageBus speedCommand speed voltageBus other other other other other other",
  "double-pendulum-joints/20220812-061705-PM_measured.csv":
    "time position position speed speed torque|torqueCommand torque|torqueCommand",
  "effort-step-bench/data_concat.csv": "time torqueCommand|duty speed position acceleration",
  "gearmotor-432-counts/step_response.csv": "time duty voltage|voltageCommand speed",
  "gearmotor-700-counts/step_response.csv": "time speedCommand speed",
  "gearmotor-700-counts/step_response_run2.csv": "time speedCommand speed",
  "inverter-fault-bench/HB1_LOW_SIDE_SC.txt":
    "time currentU|current currentV|current voltageBus currentBus temperature temperature temperature other",
  "inverter-fault-bench/HB2_HIGH_SIDE_OC.txt":
    "time currentU|current currentV|current voltageBus currentBus temperature temperature temperature other",
  "inverter-fault-bench/HB3_LOW_SIDE_OC.txt":
    "time currentU|current currentV|current voltageBus currentBus temperature temperature temperature other",
  "pendulum-joint/direct_collocation_data_measured.csv": "time position speed torque",
  "pendulum-joint/pd_system_identification_data_measured.csv": "time position speed torque",
  "propeller-stand/esc32v3_f60-1.csv":
    "time current voltageBus voltage speed duty other other other other other ? ? ? ? other",
  "robot-wheel-gearmotor/motor.csv": "time duty voltageBus current position speed acceleration",
  "robot-wheel-gearmotor/motor.xlsx": "time duty voltageBus current position speed acceleration",
  "robot-wheel-gearmotor/motor_data_voltage_12.66.csv": "time speed acceleration current duty",
  "teaching-kit-motor-a/DCmotor_prbs_open_exp.csv": "time voltage|voltageCommand speed",
  "teaching-kit-motor-a/DCmotor_step_open_exp.csv": "time voltage|voltageCommand speed",
  "teaching-kit-motor-a/DCmotor_step_closed_exp.csv": "time positionCommand position voltage|voltageCommand",
  "teaching-kit-motor-a/DCmotor_stairs_closed_exp.csv":
    "time positionCommand position voltage|voltageCommand",
  "teaching-kit-motor-a/DCmotor_profile_closed_exp.csv":
    "time positionCommand position voltage|voltageCommand",
  "teaching-kit-motor-a/DCmotor_static_gain_response.csv": "voltage|voltageCommand speed",
  "teaching-kit-motor-b/DCmotor_step_open_exp.csv": "time voltage|voltageCommand speed",
  "teaching-kit-motor-b/DCmotor_step_closed_exp.csv": "time positionCommand position voltage|voltageCommand",
  "teaching-kit-motor-b/DCmotor_stairs_closed_exp.csv": "time speedCommand speed voltage|voltageCommand",
  "teaching-kit-motor-b/DCmotor_profile_closed_exp.csv":
    "time positionCommand position voltage|voltageCommand",
  "teaching-kit-motor-b/DCmotor_static_gain_response.csv": "voltage|voltageCommand speed",
  "two-motor-dyno/2025-04-16_11-58-20.csv": "speed current duty speed current duty torque",
  "two-motor-dyno/2025-04-16_13-48-06.csv": "speed current duty speed current duty torque",
  "two-motor-dyno/2025-04-16_13-50-42.csv": "speed current duty speed current duty torque",
  "two-motor-dyno/2025-04-16_14-54-05.csv": "speed current duty speed current duty torque",
  "two-motor-dyno/2025-04-16_14-59-40.csv": "speed current duty speed current duty torque",
  "two-motor-dyno/BlueB0001CH2.CSV": "other other other time voltage",
  "two-motor-dyno/YellowB0001CH1.CSV": "other other other time voltage",
  "twelve-joint-robot/2021-06-18_11-51-23.npz":
    "position position position position position position position position position position position position speed speed speed speed",
};
