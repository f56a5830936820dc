using System.Diagnostics;
using System.Text;

namespace Traceability.Containers.Tests;

public sealed class Service_over_containers(ServerContainers servers) : IClassFixture<ServerContainers>
{
    [Fact]
    public async Task A_fact_posted_to_the_service_is_recorded_in_the_containers()
    {
        var folder = Directory.CreateTempSubdirectory("trace-service-");
        var people = Path.Combine(folder.FullName, "people.json");
        await File.WriteAllTextAsync(people, OneFact.People);
        var address = new Uri($"http://127.0.0.1:{Run.FreePort()}");
        var start = Run.Info(Path.Combine(ServiceImage.Published, "traceability"), new Dictionary<string, string>
        {
            ["Roles"] = "web,worker,signer",
            ["Bus"] = "rabbitmq",
            ["ConnectionStrings__Postgres"] = servers.Postgres.GetConnectionString(),
            ["ConnectionStrings__RabbitMq"] = servers.RabbitMq.GetConnectionString(),
            ["Connections__PlainTo"] = $"{servers.Postgres.Hostname},{servers.RabbitMq.Hostname}",
            ["Plant__TimeZone"] = "Etc/GMT+5",
            ["ASPNETCORE_URLS"] = address.ToString(),
            ["People__BootstrapFile"] = people,
            ["Signer__Folder"] = Path.Combine(folder.FullName, "signer"),
        });
        using var service = Process.Start(start)!;
        var said = new StringBuilder();
        service.OutputDataReceived += (_, line) => { lock (said) said.AppendLine(line.Data); };
        service.ErrorDataReceived += (_, line) => { lock (said) said.AppendLine(line.Data); };
        service.BeginOutputReadLine();
        service.BeginErrorReadLine();
        try
        {
            await OneFact.IsRecordedAsync(address);
        }
        catch (Exception e)
        {
            lock (said) Assert.Fail($"{e.Message}\nThe service said:\n{said}");
        }
        finally
        {
            service.Kill();
            await service.WaitForExitAsync();
            folder.Delete(recursive: true);
        }
    }
}
