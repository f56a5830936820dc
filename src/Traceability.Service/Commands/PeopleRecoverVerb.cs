using System.ComponentModel;
using Marten;
using Spectre.Console.Cli;
using Traceability.Service.People;

namespace Traceability.Service.Commands;

public sealed class PeopleRecoverSettings : VerbSettings
{
    [CommandArgument(0, "<ID>")]
    [Description("The administrator's id; a new one brings a new administrator in.")]
    public required string Id { get; set; }

    [CommandOption("--reason <WORDS>", isRequired: true)]
    [Description("Why; it stands in the log.")]
    public string? Reason { get; set; }

    [CommandOption("--name <NAME>")]
    [Description("Name of an administrator who is brought in; stands in the register only.")]
    public string? DisplayName { get; set; }

    [CommandOption("--yes")]
    [Description("No administrator is left who could do it on the People page.")]
    public bool Yes { get; set; }
}

/// <summary>
/// Gives a lost administrator a new first password, or brings one in where nobody is left. Whoever holds the service's settings may call it, and
/// nobody signs for it, so it leaves a record and stands in readiness.
/// </summary>
public sealed class PeopleRecoverVerb : Verb<PeopleRecoverSettings>
{
    protected override string Roles => "web";

    protected override async Task<int> RunAsync(IServiceProvider services, Terminal terminal, PeopleRecoverSettings settings, CancellationToken cancel)
    {
        if (!settings.Yes) throw VerbException.Called("This gives an administrator's password to whoever reads this screen, and it stands in the log for good. Where an administrator is left, use the People page; else call again with --yes.");
        if (settings.Reason?.Trim() is not { Length: > 0 and <= 300 } reason) throw VerbException.Called("--reason must be a text of 1 to 300 characters: say what happened.");
        Person? known;
        await using (var session = services.GetRequiredService<IDocumentStore>().QuerySession()) known = await session.LoadAsync<Person>(settings.Id, cancel);
        var recovered = await services.GetRequiredService<PeopleDesk>().RecoverAsync(settings.Id, settings.DisplayName, reason, known, cancel);
        if (recovered.Problem is { } problem) throw VerbException.NotThere(problem.Detail + " Nothing was changed.");
        if (settings.Json) terminal.Json(new { id = recovered.Person!.Id, password = recovered.Password });
        else terminal.Out.WriteLine($"{recovered.Person!.Id}: first password {recovered.Password}, shown once. It holds {Signing.GivenHolds.Days} days and signs nothing: sign in with it and choose an own password and PIN. The recovery stands in the log.");
        return ExitCodes.Done;
    }
}
