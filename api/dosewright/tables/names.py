"""Names in the tables, as types: written by ``sdk/generate.py`` from the data files, so change those."""

from typing import Literal, TypeAlias

__all__ = [
    "BafflingName",
    "ChlorinationRule",
    "ConstantOrganism",
    "CreditOrganism",
    "CtOrganism",
    "CurveName",
    "Disinfectant",
    "FittingName",
    "FixtureName",
    "FlushSystem",
    "HousingSize",
    "InsulationName",
    "ListedOrganism",
    "MaterialName",
    "MeasureSystemName",
    "MeasuredAs",
    "NeutraliserName",
    "NominalSize",
    "ProductName",
    "WaterSourceName",
]

BafflingName: TypeAlias = Literal[
    "unbaffled",
    "diffuser_walls",
    "poor",
    "average",
    "superior",
    "near_plug_flow",
    "plug_flow",
]
"""tables/data/baffling_factors.csv, name."""

ChlorinationRule: TypeAlias = Literal[
    "san_bernardino_13_24_350",
    "california_74_81_new",
    "california_74_81_repaired",
    "maryland_26_04_04_24",
    "illinois_77_925_50",
    "michigan_325_1661",
    "north_carolina_18c_1002",
    "ontario_903",
    "montana_36_21_662",
    "mil_hdbk_1164",
    "alberta_agdex_716_a10",
    "alberta_health_50",
    "awwa_c651_continuous_feed",
    "awwa_c651_slug",
    "awwa_c651_tablet",
    "awwa_c651_tablet_cold",
    "awwa_c654",
    "awwa_c652_method_1",
    "awwa_c652_method_2",
    "awwa_c652_method_3",
    "ground_water_trust",
    "plumbing_code_610_1",
    "state_plumbing_code_10_9_2",
    "north_carolina_18c_1003",
    "ontario_building_code_7_6_2_8",
    "oregon_tank_surfaces",
    "awwa_c652_method_1_fed",
]
"""tables/data/chlorination_rules.csv, name."""

ConstantOrganism: TypeAlias = Literal[
    "poliovirus_1",
    "adenovirus_pooled",
    "rotavirus_sa11",
    "calicivirus_feline_canine",
    "calicivirus_bovine",
    "hepatitis_a_virus",
    "coxsackievirus_b5",
    "ms2_coliphage",
    "phi_x174_coliphage",
    "escherichia_coli",
    "escherichia_coli_o157",
    "legionella_pneumophila",
    "campylobacter_jejuni",
    "salmonella_typhi",
    "shigella_dysenteriae",
    "shigella_sonnei",
    "vibrio_cholerae",
    "yersinia_enterocolitica",
    "streptococcus_faecalis",
    "clostridium_perfringens_spores",
    "cryptosporidium_parvum",
]
"""tables/data/uv_organisms.csv, name, where form is constant."""

CreditOrganism: TypeAlias = Literal["cryptosporidium", "giardia_lamblia", "virus"]
"""tables/data/uv_credit_doses.csv, organism."""

CtOrganism: TypeAlias = Literal["virus", "giardia", "cryptosporidium"]
"""tables/data/ct_other.csv, organism."""

CurveName: TypeAlias = Literal["illinois_table_n", "national_standard_b_5_4", "ipc_e103_3"]
"""tables/data/demand_curves.csv, curve."""

Disinfectant: TypeAlias = Literal["free_chlorine", "chlorine_dioxide", "ozone", "chloramine"]
"""tables/data/ct_other.csv, disinfectant."""

FittingName: TypeAlias = Literal[
    "elbow_90",
    "elbow_90_welded",
    "elbow_90_long_radius",
    "elbow_90_mitred_1_weld",
    "elbow_90_mitred_2_welds",
    "elbow_90_mitred_3_welds",
    "elbow_90_mitred_4_welds",
    "elbow_90_mitred_5_welds",
    "elbow_45",
    "elbow_45_long_radius",
    "elbow_45_mitred_1_weld",
    "elbow_45_mitred_2_welds",
    "return_bend",
    "return_bend_welded",
    "return_bend_long_radius",
    "tee_branch",
    "tee_branch_long_radius",
    "tee_branch_welded",
    "tee_branch_stub_in",
    "tee_run",
    "tee_run_welded",
    "tee_run_stub_in",
    "gate_valve_open",
    "ball_valve_open",
    "plug_valve_open",
    "globe_valve_open",
    "angle_valve_open",
    "diaphragm_valve_open",
    "butterfly_valve_open",
    "lift_check_valve",
    "swing_check_valve",
    "tilting_disc_check_valve",
    "ball_valve_full_bore",
    "elbow_square",
    "coupling",
    "union",
    "gate_valve_3_4_open",
    "gate_valve_1_2_open",
    "gate_valve_1_4_open",
    "disc_check_valve",
    "ball_check_valve",
    "foot_valve",
    "water_meter_disc",
    "water_meter_piston",
    "pipe_entrance",
    "pipe_exit",
]
"""tables/data/fitting_losses.csv, fitting, where default is yes."""

FixtureName: TypeAlias = Literal[
    "bathtub",
    "bidet",
    "clothes_washer",
    "dishwasher",
    "drinking_fountain",
    "hose_bibb",
    "kitchen_sink",
    "laundry_tray",
    "lavatory",
    "shower",
    "water_closet_tank",
    "water_closet_valve",
]
"""tables/data/fixtures.csv, fixture."""

FlushSystem: TypeAlias = Literal["flush_tank", "flush_valve"]
"""tables/data/demand_curves.csv, system."""

HousingSize: TypeAlias = Literal["2.5x10", "2.5x20", "4.5x10", "4.5x20"]
"""tables/data/filter_housings.csv, name."""

InsulationName: TypeAlias = Literal["elastomeric_foam", "polyethylene_foam", "glass_fibre", "cellular_glass"]
"""tables/data/insulation_materials.csv, material."""

ListedOrganism: TypeAlias = Literal[
    "poliovirus_1",
    "adenovirus_pooled",
    "rotavirus_sa11",
    "calicivirus_feline_canine",
    "calicivirus_bovine",
    "hepatitis_a_virus",
    "coxsackievirus_b5",
    "ms2_coliphage",
    "phi_x174_coliphage",
    "escherichia_coli",
    "escherichia_coli_o157",
    "legionella_pneumophila",
    "campylobacter_jejuni",
    "salmonella_typhi",
    "shigella_dysenteriae",
    "shigella_sonnei",
    "vibrio_cholerae",
    "yersinia_enterocolitica",
    "streptococcus_faecalis",
    "clostridium_perfringens_spores",
    "cryptosporidium_parvum",
    "adenovirus_40_one_log",
    "adenovirus_41_one_log",
    "ms2_coliphage_one_log",
    "prd1_coliphage_one_log",
    "poliovirus_1_one_log",
    "campylobacter_environmental",
    "escherichia_coli_o157_environmental",
    "rotavirus_sa11_table",
    "norovirus_surrogates",
    "adenovirus_5",
    "adenovirus_41",
    "adenovirus_5_coloured_water",
    "escherichia_coli_atcc_11229",
    "hepatitis_a_hm175_wilson",
    "hepatitis_a_hm175_wiedenmann",
    "poliovirus_1_tree",
    "rotavirus_sa11_wilson",
    "rotavirus_sa11_chang",
    "adenovirus_40_thurston_enriquez",
    "bacillus_subtilis_spores_chang",
    "legionella_pneumophila_atcc_33152",
    "adenovirus_40_buffered",
    "adenovirus_40_groundwater",
    "ms2_coliphage_buffered",
    "feline_calicivirus_buffered",
    "feline_calicivirus_groundwater",
    "escherichia_coli_effluent",
    "feline_calicivirus_effluent",
    "poliovirus_effluent",
    "ms2_coliphage_effluent",
    "feline_calicivirus_nuanualsuwan",
    "hepatitis_a_nuanualsuwan",
    "poliovirus_1_nuanualsuwan",
    "ms2_coliphage_nuanualsuwan",
    "phi_x174_nuanualsuwan",
]
"""tables/data/uv_organisms.csv, name."""

MaterialName: TypeAlias = Literal[
    "copper_type_k",
    "copper_type_l",
    "copper_type_m",
    "pvc_schedule_40",
    "pvc_schedule_80",
    "cpvc_schedule_40",
    "cpvc_schedule_80",
    "cpvc_sdr11",
    "pex_sdr9",
    "pe_sidr7",
    "pe_sidr9",
    "pe_sidr11_5",
    "pe_sidr15",
    "pe_sidr19",
    "pe_dr9",
    "pe_dr11",
    "pe_dr13_5",
    "steel_schedule_40",
    "steel_schedule_80",
    "galvanized_steel_schedule_40",
    "galvanized_steel_schedule_80",
]
"""tables/data/pipe_materials.csv, material."""

MeasuredAs: TypeAlias = Literal["volume", "mass"]
"""tables/data/measures.csv, dimension."""

MeasureSystemName: TypeAlias = Literal["metric", "us_kitchen", "trade"]
"""tables/data/measures.csv, system."""

NeutraliserName: TypeAlias = Literal[
    "sodium_thiosulfate_pentahydrate",
    "sodium_thiosulfate",
    "sodium_sulfite",
    "sodium_bisulfite",
    "sodium_metabisulfite",
    "calcium_thiosulfate",
    "ascorbic_acid",
    "sodium_ascorbate",
    "hydrogen_peroxide",
]
"""tables/data/neutralisers.csv, agent."""

NominalSize: TypeAlias = Literal["3/8", "1/2", "5/8", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4"]
"""tables/data/pipe_dimensions.csv, nominal_size."""

ProductName: TypeAlias = Literal[
    "household_bleach_5_25",
    "household_bleach_6",
    "household_bleach_8_25",
    "sodium_hypochlorite_10_trade",
    "sodium_hypochlorite_12_trade",
    "sodium_hypochlorite_12_5_trade",
    "calcium_hypochlorite_65",
    "calcium_hypochlorite_70",
]
"""tables/data/chlorine_products.csv, name."""

WaterSourceName: TypeAlias = Literal["drilled_well", "dug_well", "spring", "surface_water", "rainwater"]
"""tables/data/water_sources.csv, water_source."""
