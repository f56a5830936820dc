using Traceability.PlantSimulator.Story;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>A service of its own for each test, with its administrator signed in.</summary>
public abstract class AdministeredPlant : IAsyncLifetime
{
    protected PlantHost Host { get; private set; } = null!;

    protected HttpClient Administrator { get; private set; } = null!;

    public async Task InitializeAsync()
    {
        Host = await PlantHost.StartAsync(false, ["web"]);
        Administrator = await Host.SignInAsync(Plant.Administrator);
    }

    public async Task DisposeAsync()
    {
        Administrator.Dispose();
        await Host.DisposeAsync();
    }
}
