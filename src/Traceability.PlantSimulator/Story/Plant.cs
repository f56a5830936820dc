using Traceability.Core.Events;

namespace Traceability.PlantSimulator.Story;

/// <summary>A station's device: what it signs on with, and the roles whose facts it may send.</summary>
public sealed record Station(string Device, string Source, string Name, IReadOnlyList<string> Roles);

/// <summary>A person of the plant. People have ids and duties here, never names.</summary>
public sealed record Worker(string Id, string Duty, IReadOnlyList<string> Roles);

/// <summary>The invented plant: its stations and people. Nothing here is taken from a real plant.</summary>
public static class Plant
{
    public const string Id = "plant-1";

    public static readonly Station Office = new("office-1", "/plant/office-1", "Office", [Roles.QualityEngineer]);
    public static readonly Station Receiving = new("receiving-1", "/plant/receiving-1", "Receiving dock", [Roles.Receiving]);
    public static readonly Station CageShop = new("cage-1", "/plant/cage-1", "Cage shop", [Roles.CageCrew]);
    public static readonly Station FormHall = new("form-1", "/plant/form-1", "Form hall", [Roles.FormCrew]);
    public static readonly Station Inspection = new("inspection-1", "/plant/inspection-1", "Inspector's tablet", [Roles.PlantInspector]);
    public static readonly Station BatchHouse = new("batch-1", "/plant/batch-1", "Batch computer", [Roles.BatchOperator]);
    public static readonly Station TicketFiles = new("ticket-files", "/plant/ticket-files", "Batch tickets read from files", [Roles.BatchOperator]);
    public static readonly Station Laboratory = new("lab-1", "/plant/lab-1", "Laboratory", [Roles.Laboratory]);
    public static readonly Station PourFloor = new("pour-1", "/plant/pour-1", "Pour floor", [Roles.PourCrew]);
    public static readonly Station Yard = new("yard-1", "/plant/yard-1", "Yard", [Roles.Yard]);
    public static readonly Station Gate = new("gate-1", "/plant/gate-1", "Shipping gate", [Roles.Shipping]);
    public static readonly Station AgencyDesk = new("agency-1", "/plant/agency-1", "Agency inspectors' tablet", [Roles.AgencyInspector]);

    public static IReadOnlyList<Station> Stations { get; } =
        [Office, Receiving, CageShop, FormHall, Inspection, BatchHouse, TicketFiles, Laboratory, PourFloor, Yard, Gate, AgencyDesk];

    public static readonly Worker QualityEngineer = new("p-101", "Quality engineer", [Roles.QualityEngineer]);
    public static readonly Worker Inspector = new("p-102", "Plant inspector, named second approver", [Roles.PlantInspector, Roles.SecondApprover]);
    public static readonly Worker Receiver = new("p-103", "Receiving clerk", [Roles.Receiving]);
    public static readonly Worker CageForeman = new("p-104", "Cage foreman", [Roles.CageCrew]);
    public static readonly Worker FormForeman = new("p-105", "Form foreman", [Roles.FormCrew]);
    public static readonly Worker BatchOperator = new("p-106", "Batch operator", [Roles.BatchOperator]);
    public static readonly Worker FieldTechnician = new("p-107", "Field testing technician", [Roles.Laboratory]);
    public static readonly Worker StrengthTechnician = new("p-108", "Strength testing technician", [Roles.Laboratory]);
    public static readonly Worker PourForeman = new("p-109", "Pour foreman", [Roles.PourCrew]);
    public static readonly Worker YardForeman = new("p-110", "Yard foreman", [Roles.Yard]);
    public static readonly Worker Dispatcher = new("p-111", "Dispatcher", [Roles.Shipping]);
    public static readonly Worker LapsedTechnician = new("p-112", "Field testing technician, certificate lapsed", [Roles.Laboratory]);
    public static readonly Worker DeputyEngineer = new("p-113", "Deputy quality engineer, second approver", [Roles.QualityEngineer]);
    public static readonly Worker NorthInspector = new("p-201", "Inspector of the invented northern department", [Roles.AgencyInspector]);
    public static readonly Worker WestInspector = new("p-202", "Inspector of the invented western commission", [Roles.AgencyInspector]);
    public static readonly Worker Administrator = new("p-901", "Administrator", [Roles.Administrator]);
    public static readonly Worker Auditor = new("p-902", "Auditor", [Roles.Auditor]);

    public static IReadOnlyList<Worker> People { get; } =
    [
        QualityEngineer, Inspector, Receiver, CageForeman, FormForeman, BatchOperator, FieldTechnician, StrengthTechnician,
        PourForeman, YardForeman, Dispatcher, LapsedTechnician, DeputyEngineer, NorthInspector, WestInspector, Administrator, Auditor,
    ];
}
